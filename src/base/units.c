/* Quantities: reading text into SI and printing SI in the user's units. Factors are exact (inch 0.0254 m, pound
 * 0.45359237 kg, standard gravity 9.80665 m/s2, US gallon 231 in3) except the conventional mmHg, inHg and inH2O; all as
 * in NIST SP 811 (2008), appendix B. Units that are a decimal part of the SI unit are written as a division, which
 * rounds once. */
#include "base/units.h"
#include "base/mem.h"
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct unit {
    const char *name;
    enum dimension dim;
    double factor, divisor; /* SI = (value + offset) * factor / divisor */
    double offset;
};

#define LBF 4.4482216152605     /* N */
#define OZF 0.27801385095378125 /* N */
#define KGF 9.80665             /* N */

/* A spring rate for each pair of force and length, so that it can follow both. */
#define SPRING_RATES(force, newtons)                                                                                   \
    {force "/m", DIM_SPRING_RATE, newtons, 1, 0}, {force "/mm", DIM_SPRING_RATE, (newtons)*1000, 1, 0},                \
        {force "/um", DIM_SPRING_RATE, (newtons)*1e6, 1, 0}, {force "/cm", DIM_SPRING_RATE, (newtons)*100, 1, 0},      \
        {force "/in", DIM_SPRING_RATE, newtons, 0.0254, 0}, {force "/ft", DIM_SPRING_RATE, newtons, 0.3048, 0},        \
        {force "/mil", DIM_SPRING_RATE, newtons, 2.54e-05, 0},                                                         \
    {                                                                                                                  \
        force "/thou", DIM_SPRING_RATE, newtons, 2.54e-05, 0                                                           \
    }

static const struct unit table[] = {
    {"Pa", DIM_PRESSURE, 1, 1, 0},
    {"kPa", DIM_PRESSURE, 1000, 1, 0},
    {"MPa", DIM_PRESSURE, 1e6, 1, 0},
    {"bar", DIM_PRESSURE, 1e5, 1, 0},
    {"mbar", DIM_PRESSURE, 100, 1, 0},
    {"psi", DIM_PRESSURE, LBF, 0.00064516, 0},
    {"kgf/cm2", DIM_PRESSURE, 98066.5, 1, 0},
    {"atm", DIM_PRESSURE, 101325, 1, 0},
    {"torr", DIM_PRESSURE, 101325, 760, 0},
    {"mmHg", DIM_PRESSURE, 133.322387415, 1, 0},
    {"inHg", DIM_PRESSURE, 3386.388640341, 1, 0},
    {"inH2O", DIM_PRESSURE, 249.08891, 1, 0},

    {"m", DIM_LENGTH, 1, 1, 0},
    {"mm", DIM_LENGTH, 1, 1000, 0},
    {"um", DIM_LENGTH, 1, 1e6, 0},
    {"cm", DIM_LENGTH, 1, 100, 0},
    {"in", DIM_LENGTH, 0.0254, 1, 0},
    {"ft", DIM_LENGTH, 0.3048, 1, 0},
    {"mil", DIM_LENGTH, 2.54e-05, 1, 0},
    {"thou", DIM_LENGTH, 2.54e-05, 1, 0},

    {"m2", DIM_AREA, 1, 1, 0},
    {"mm2", DIM_AREA, 1, 1e6, 0},
    {"cm2", DIM_AREA, 1, 1e4, 0},
    {"in2", DIM_AREA, 0.00064516, 1, 0},

    {"m3", DIM_VOLUME, 1, 1, 0},
    {"mm3", DIM_VOLUME, 1, 1e9, 0},
    {"cm3", DIM_VOLUME, 1, 1e6, 0},
    {"mL", DIM_VOLUME, 1, 1e6, 0},
    {"L", DIM_VOLUME, 1, 1000, 0},
    {"in3", DIM_VOLUME, 1.6387064e-05, 1, 0},
    {"gal(US)", DIM_VOLUME, 0.003785411784, 1, 0},
    {"qt(US)", DIM_VOLUME, 0.000946352946, 1, 0},
    {"fl oz(US)", DIM_VOLUME, 2.95735295625e-05, 1, 0},
    {"gal(imp)", DIM_VOLUME, 0.00454609, 1, 0},

    {"m3/s", DIM_FLOW, 1, 1, 0},
    {"m3/h", DIM_FLOW, 1, 3600, 0},
    {"L/min", DIM_FLOW, 1, 60000, 0},
    {"cm3/s", DIM_FLOW, 1, 1e6, 0},
    {"gal/min", DIM_FLOW, 0.003785411784, 60, 0},
    {"qt/min", DIM_FLOW, 0.000946352946, 60, 0},
    {"in3/s", DIM_FLOW, 1.6387064e-05, 1, 0},
    {"in3/min", DIM_FLOW, 1.6387064e-05, 60, 0},

    {"N", DIM_FORCE, 1, 1, 0},
    {"lbf", DIM_FORCE, LBF, 1, 0},
    {"ozf", DIM_FORCE, OZF, 1, 0},
    {"kgf", DIM_FORCE, KGF, 1, 0},

    SPRING_RATES("N", 1),
    SPRING_RATES("lbf", LBF),
    SPRING_RATES("ozf", OZF),
    SPRING_RATES("kgf", KGF),

    {"kg/m3", DIM_DENSITY, 1, 1, 0},
    {"g/cm3", DIM_DENSITY, 1000, 1, 0},
    {"lb/ft3", DIM_DENSITY, 16.018463373960138, 1, 0},
    {"lbf s2/in4", DIM_DENSITY, 10686895.178201316, 1, 0},

    {"m2/s", DIM_VISCOSITY, 1, 1, 0},
    {"mm2/s", DIM_VISCOSITY, 1, 1e6, 0},
    {"cSt", DIM_VISCOSITY, 1, 1e6, 0},
    {"in2/s", DIM_VISCOSITY, 0.00064516, 1, 0},

    {"K", DIM_TEMPERATURE, 1, 1, 0},
    {"degC", DIM_TEMPERATURE, 1, 1, 273.15},
    {"degF", DIM_TEMPERATURE, 1, 1.8, 459.67},

    {"%", DIM_SHARE, 1, 100, 0},
    {"1", DIM_SHARE, 1, 1, 0}, /* names the unit of bare shares; it is never written behind a number */
    {"", DIM_NUMBER, 1, 1, 0},
};
#define N_TABLE (sizeof table / sizeof *table)

static const struct {
    const char *designation;
    double mm;
} drills[] = {
#define DRILL(designation, mm) {designation, mm},
#include "base/drills.def"
#undef DRILL
};

static const char *const dimension_keys[N_DIMENSIONS] = {
    [DIM_PRESSURE] = "pressure",
    [DIM_LENGTH] = "length",
    [DIM_AREA] = "area",
    [DIM_VOLUME] = "volume",
    [DIM_FLOW] = "flow",
    [DIM_FORCE] = "force",
    [DIM_DENSITY] = "density",
    [DIM_SPRING_RATE] = "spring_rate",
    [DIM_VISCOSITY] = "viscosity",
    [DIM_SHARE] = "share",
    [DIM_TEMPERATURE] = "temperature",
};

/* Whether the n bytes, which may hold a NUL, are this name. */
static bool is_name(const char *name, const char *bytes, size_t n)
{
    return strlen(name) == n && !memcmp(name, bytes, n);
}

static const struct unit *unit_find(const char *name, size_t n)
{
    for (size_t i = 0; i < N_TABLE; i++)
        if (is_name(table[i].name, name, n))
            return &table[i];
    return NULL;
}

/* The row of a dimension's default unit; names from this table are met by address, which is quick. */
static const struct unit *unit_default(const struct units *u, enum dimension dim)
{
    const char *name = u->name[dim];
    for (size_t i = 0; i < N_TABLE; i++)
        if (table[i].name == name)
            return &table[i];
    return unit_find(name, strlen(name));
}

struct units units_default(void)
{
    static const char *const names[N_DIMENSIONS] = {
        [DIM_PRESSURE] = "psi",  [DIM_LENGTH] = "mm",        [DIM_AREA] = "mm2",         [DIM_VOLUME] = "cm3",
        [DIM_FLOW] = "L/min",    [DIM_FORCE] = "N",          [DIM_SPRING_RATE] = "N/mm", [DIM_DENSITY] = "kg/m3",
        [DIM_VISCOSITY] = "cSt", [DIM_TEMPERATURE] = "degC", [DIM_SHARE] = "%",          [DIM_NUMBER] = "",
    };
    struct units u;
    for (size_t i = 0; i < N_DIMENSIONS; i++)
        u.name[i] = unit_find(names[i], strlen(names[i]))->name;
    return u;
}

/* The spring rate's unit made of the units of force and length. */
static const char *rate_name(const struct units *u)
{
    char name[32];
    int n = snprintf(name, sizeof name, "%s/%s", u->name[DIM_FORCE], u->name[DIM_LENGTH]);
    return unit_find(name, (size_t)n)->name;
}

bool units_set(struct units *u, enum dimension dim, const char *unit)
{
    const struct unit *row = unit_find(unit, strlen(unit));
    if (!row || row->dim != dim)
        return false;
    /* One that was set by itself follows no more. */
    bool follows = (dim == DIM_FORCE || dim == DIM_LENGTH) && !strcmp(u->name[DIM_SPRING_RATE], rate_name(u));
    u->name[dim] = row->name;
    if (follows)
        u->name[DIM_SPRING_RATE] = rate_name(u);
    return true;
}

enum dimension units_dimension(const char *key)
{
    for (size_t i = 0; i < N_DIMENSIONS; i++)
        if (dimension_keys[i] && !strcmp(dimension_keys[i], key))
            return (enum dimension)i;
    return N_DIMENSIONS;
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static size_t skip_digits(const char *text, size_t n, size_t i)
{
    while (i < n && is_digit(text[i]))
        i++;
    return i;
}

/* The end of [+-]digits[.digits][e[+-]digits] that begins at text[i], or i when there is no number. */
static size_t scan_number(const char *text, size_t n, size_t i)
{
    size_t start = i;
    if (i < n && (text[i] == '+' || text[i] == '-'))
        i++;
    size_t digits = i;
    i = skip_digits(text, n, i);
    if (i == digits)
        return start;
    if (i < n && text[i] == '.') {
        size_t fraction = skip_digits(text, n, i + 1);
        if (fraction == i + 1)
            return start;
        i = fraction;
    }
    if (i < n && (text[i] == 'e' || text[i] == 'E')) {
        size_t exponent = i + 1;
        if (exponent < n && (text[exponent] == '+' || text[exponent] == '-'))
            exponent++;
        size_t end = skip_digits(text, n, exponent);
        if (end > exponent)
            i = end;
    }
    return i;
}

/* The grammar is checked, so strtod() meets no hexadecimal, NaN or infinity; the program never sets LC_NUMERIC. */
static double number_value(const char *text, size_t n)
{
    char small[64], *copy = n < sizeof small ? small : mem_alloc(n + 1);
    memcpy(copy, text, n);
    copy[n] = '\0';
    double value = strtod(copy, NULL);
    if (copy != small)
        mem_free(copy);
    return value;
}

static enum quantity_problem read_drill(const char *text, size_t n, enum dimension dim, double *value)
{
    if (dim != DIM_LENGTH)
        return QUANTITY_WRONG_DIMENSION;
    char letter = n == 1 ? (char)toupper((unsigned char)text[0]) : '\0';
    for (size_t i = 0; i < sizeof drills / sizeof *drills; i++) {
        const char *designation = drills[i].designation;
        if (is_name(designation, text, n) || (letter && is_name(designation, &letter, 1))) {
            *value = drills[i].mm / 1000;
            return QUANTITY_OK;
        }
    }
    return QUANTITY_UNKNOWN_DRILL;
}

enum quantity_problem quantity_read(const char *text, size_t n, enum dimension dim, const struct units *u,
                                    double *value, size_t *unit_at)
{
    static const char drill[] = "drill";
    size_t ignored;
    unit_at = unit_at ? unit_at : &ignored;
    while (n && is_blank(text[n - 1]))
        n--;
    size_t start = 0;
    while (start < n && is_blank(text[start]))
        start++;
    *unit_at = start;

    size_t after = start + sizeof drill - 1;
    if (n >= after && !memcmp(text + start, drill, sizeof drill - 1) && (n == after || is_blank(text[after]))) {
        while (after < n && is_blank(text[after]))
            after++;
        if (dim == DIM_LENGTH)
            *unit_at = after;
        return read_drill(text + after, n - after, dim, value);
    }

    size_t end = scan_number(text, n, start);
    if (end == start)
        return QUANTITY_NOT_A_NUMBER;
    size_t at = end;
    while (at < n && is_blank(text[at]))
        at++;
    const struct unit *unit;
    if (at == n) {
        unit = unit_default(u, dim);
    } else {
        /* What is glued to a number in other ways (1.2.3, 1,5, 1_000, 0x1F) is no unit but a number written wrongly. */
        if (is_digit(text[at]) || strchr(".,_+-'", text[at]) || (at == end && (text[at] == 'x' || text[at] == 'X')))
            return QUANTITY_NOT_A_NUMBER;
        *unit_at = at;
        unit = unit_find(text + at, n - at);
        if (!unit)
            return QUANTITY_UNKNOWN_UNIT;
        if (unit->dim != dim)
            return QUANTITY_WRONG_DIMENSION;
    }
    double si = (number_value(text + start, end - start) + unit->offset) * unit->factor / unit->divisor;
    if (!isfinite(si) || (dim == DIM_TEMPERATURE && si < 0))
        return QUANTITY_OUT_OF_RANGE;
    *value = si + 0.0; /* no negative zero */
    return QUANTITY_OK;
}

const char *const *units_of(enum dimension dim)
{
    static const char *names[N_DIMENSIONS][N_TABLE + 1];
    if (!names[dim][0]) {
        size_t n = 0;
        for (size_t i = 0; i < N_TABLE; i++)
            if (table[i].dim == dim && (isalpha((unsigned char)table[i].name[0]) || table[i].name[0] == '%'))
                names[dim][n++] = table[i].name;
    }
    return names[dim];
}

void quantity_add(struct text *t, double value, enum dimension dim, const struct units *u)
{
    if (!isfinite(value)) {
        text_add_char(t, '?');
        return;
    }
    const struct unit *unit = unit_default(u, dim);
    double shown = value * unit->divisor / unit->factor - unit->offset;
    if (unit->offset != 0 && fabs(shown) < 1e-6)
        shown = 0; /* what a subtraction left over is no temperature */
    bool long_number = fabs(shown) >= 9999.5 && fabs(shown) < 1e15;
    text_addf(t, long_number ? "%.0f" : "%.4g", shown);
    if (isalpha((unsigned char)unit->name[0]) || unit->name[0] == '%')
        text_addf(t, " %s", unit->name);
}
