/* The laws of pressure: how much oil each kind of element passes, and how what moves in a valve body opens and shuts
 * it. One function a law, each with its slope, so that a test can hold it against its source. SI inside. Cannot fail.
 */
#ifndef PRESSURE_LAWS_H
#define PRESSURE_LAWS_H
#include "model/model.h"
#include <math.h>

#define CD_SHARP 0.611 /* sharp-edged opening: pi / (pi + 2), von Mises 1917; in H. E. Merritt, ch. 3 */

/* Sizes where the model gives none. Common practice, no source. */
#define SIZE_WINDOW     0.006 /* m: hole, window, relief, spill of a stuck regulator, bore without its plug */
#define SIZE_BLEED      0.002 /* m: bleed solenoid */
#define SIZE_LEAK       0.0005
#define SIZE_BORE       0.012 /* m: a worn valve without `clearance` */
#define SIZE_LAND       0.006
#define SIZE_WORN_GAP   0.00006
#define SIZE_APPLIES_AT 206842.718795 /* Pa: 30 psi */

struct oil {
    double density;   /* kg/m3 */
    double viscosity; /* kinematic, m2/s */
};

/** The oil at a temperature in K: Walther's line log10 log10(nu + 0.7 cSt) = A - B log10(T) through the fluid's two
 * points. Source: ASTM D341 (valid above 2 cSt), from memory. */
struct oil oil_at(const struct fluid *f, double temperature);

/* An opening, reduced to what its law needs. */
struct opening {
    double gain;       /* m3/s per Pa^0.5: Cd A (2 / density)^0.5 */
    double transition; /* Pa: below it flow is laminar, > 0 */
};

/** A sharp-edged opening of equivalent diameter d (m, > 0); cd NAN: CD_SHARP. The transition puts the coefficient at
 * 0.2 Re^0.5 for small Reynolds numbers: dp = density/2 (Ret nu / (Cd d))^2 with Ret = (Cd / 0.2)^2.
 * Source: H. E. Merritt, Hydraulic Control Systems (Wiley 1967), ch. 3, from memory. It holds for thin plates
 * (thickness over diameter below about 0.5); thicker ones reach Cd 0.76 to 0.82. */
struct opening opening_make(double d, double cd, const struct oil *oil);

/** Flow through it, m3/s, signed like dp, smooth through dp = 0: gain dp / (dp^2 + transition^2)^(1/4).
 * @param slope out, dQ/d(dp), m3/(s Pa), > 0. Source: as opening_make(). */
static inline double opening_flow(double gain, double transition, double dp, double *slope)
{
    double inverse = 1 / sqrt(dp * dp + transition * transition);
    double q = gain * sqrt(inverse), part = dp * inverse;
    *slope = q * (1 - 0.5 * part * part);
    return q * dp;
}

/** Conductance of a concentric or eccentric annular gap, m3/(s Pa): pi d c^3 (1 + 1.5 e^2) / (12 mu L).
 * @param bore diameter, m  @param gap radial clearance, m  @param e eccentricity over the gap, 0 to 1
 * @param land length, m.  Source: fully developed laminar flow in a thin gap; Merritt, ch. 2, from memory. */
double gap_conductance(double bore, double gap, double e, double land, const struct oil *oil);

/** clamp(u, 0, 1) and its slope; at a corner the slope is that of the piece above. */
static inline double share_open(double u, double *slope)
{
    *slope = u >= 0 && u < 1 ? 1 : 0;
    return u < 0 ? 0 : u > 1 ? 1 : u;
}

/** Share of a window that is open at rest, at travel share x: clamp((1 - lap - 2 x) / (1 - lap), 0, 1). Both windows of
 * a spool are shut at mid travel. */
static inline double share_rest(double x, double lap, double *slope)
{
    double share = share_open((1 - lap - 2 * x) / (1 - lap), slope);
    *slope *= -2 / (1 - lap);
    return share;
}

/** The same of one that is open when stroked: clamp((2 x - 1 - lap) / (1 - lap), 0, 1). */
static inline double share_stroked(double x, double lap, double *slope)
{
    double share = share_open((2 * x - 1 - lap) / (1 - lap), slope);
    *slope *= 2 / (1 - lap);
    return share;
}

/** Force that takes a spool through its travel, N, > 0: rate x travel, else 2 % of the preload and at least 0.1 N.
 * @param broken the spring is gone. */
double spool_range(const struct valve *v, bool broken);

/** How far the pressure at its reaction end opens a limiting valve, to be clamped: (limit - p) / (droop limit). */
double limiting_opening(const struct valve *v, double p, double *slope);

/** The same for its exhaust, which opens from 2 % to 7 % above the limit. */
double limiting_exhaust(const struct valve *v, double p, double *slope);

/** The same for a relief valve: over 5 % above the pressure at which it cracks. */
double relief_opening(const struct valve *v, double p, double *slope);

/** The same for what a regulator also feeds: from 98 % to 100 % of the setting. @param by_p, by_setting out, slopes. */
double also_feeds_opening(double p, double setting, double *by_p, double *by_setting);

/** How far a shuttle's seat lets oil out of the pocket, to be clamped: 1 + (own inlet - other inlet) / 100 Pa. */
#define SEAT_WIDTH 100.0
double seat_opening(double own, double other);

/* Where a source stands on its rule. */
enum source_mode { SOURCE_HOLDS, SOURCE_AT_CAPACITY, SOURCE_GIVES_NOTHING };
#define SOURCE_GAIN 1e-12 /* m3/(s Pa): any will do */

/** The rule of a source, q = mid(0, q + gain (setting - p), capacity) for any gain > 0: it holds its setting, or gives
 * its capacity below it, or gives nothing above it. @return the right side, which is q where the rule is obeyed
 * @param setting INFINITY: the capacity, whatever the pressure  @param mode out */
double source_flow(double q, double gain, double setting, double p, double capacity, enum source_mode *mode);

/** The setting that a regulator gives to `line: regulated`: base plus boost, up to at_most (NAN: no bound).
 * @param clamped out: at the bound. */
double regulated_setting(double base, double boost, double at_most, bool *clamped);
#endif
