/* Quantities: a number with a unit read from text, SI inside, printed in the user's units. */
#ifndef BASE_UNITS_H
#define BASE_UNITS_H
#include "base/text.h"
#include <stdbool.h>
#include <stddef.h>

enum dimension {
    DIM_PRESSURE,    /* Pa */
    DIM_LENGTH,      /* m */
    DIM_AREA,        /* m2 */
    DIM_VOLUME,      /* m3 */
    DIM_FLOW,        /* m3/s */
    DIM_FORCE,       /* N */
    DIM_SPRING_RATE, /* N/m */
    DIM_DENSITY,     /* kg/m3 */
    DIM_VISCOSITY,   /* m2/s, kinematic */
    DIM_TEMPERATURE, /* K */
    DIM_SHARE,       /* 1; a bare number is per cent where the caller says so */
    DIM_NUMBER,      /* 1; no unit may stand */
    N_DIMENSIONS
};

/* The default unit of each dimension in one file: rows of the unit table, by name ("psi", "mm", ...). */
struct units {
    const char *name[N_DIMENSIONS];
};

/** psi, mm, mm2, cm3, L/min, N, N/mm, kg/m3, cSt, degC, %. */
struct units units_default(void);

/** Sets the default unit of one dimension; false: no such unit of that dimension. The spring rate follows force and
 * length. */
bool units_set(struct units *u, enum dimension dim, const char *unit);

/** Dimension by the key of a model's `units:` section (pressure, length, area, flow, force, volume, ...), or
 * N_DIMENSIONS. */
enum dimension units_dimension(const char *key);

enum quantity_problem {
    QUANTITY_OK,
    QUANTITY_NOT_A_NUMBER,    /* also NaN, infinities, hexadecimal, an empty text */
    QUANTITY_UNKNOWN_UNIT,    /* *unit_at is the offset of the unit in the text */
    QUANTITY_WRONG_DIMENSION, /* the unit measures something else */
    QUANTITY_UNKNOWN_DRILL,
    QUANTITY_OUT_OF_RANGE /* overflows a double, or a temperature below absolute zero */
};

/** Reads "0.9", "0.9 mm", "drill 65" (lengths only), "5 %" as dimension `dim`; a bare number is in u's unit. A sign is
 * read; whether negative is allowed is the caller's. Independent of the locale; the number is correctly rounded.
 *  @param value out, SI (temperatures in K); untouched unless QUANTITY_OK.  @param unit_at out, may be NULL. */
enum quantity_problem quantity_read(const char *text, size_t n, enum dimension dim, const struct units *u,
                                    double *value, size_t *unit_at);

/** The unit names of one dimension, NULL at the end; borrowed, static. */
const char *const *units_of(enum dimension dim);

/** Appends an SI value in u's unit with three to four significant digits and the unit: "115 psi", "0.9 mm". NAN appends
 * "?". */
void quantity_add(struct text *t, double value, enum dimension dim, const struct units *u);
#endif
