/* The laws, one function each. What they are applied to is balance.c's. */
#include "pressure/laws.h"
#include <math.h>

#define PI            3.14159265358979323846
#define DELTA_LAMINAR 0.2  /* Cd = delta Re^0.5 at low Reynolds number, round hole; Merritt, ch. 3 */
#define DROOP_LEAST   1e-6 /* a valve without droop still needs some travel */
#define RANGE_SHARE   0.02 /* of the preload */
#define RANGE_LEAST   0.1  /* N */
#define EXHAUST_FROM  1.02 /* of the limit */
#define EXHAUST_WIDTH 0.05
#define RELIEF_WIDTH  0.05 /* of cracks_at */
#define ALSO_FROM     0.98 /* of the setting */
#define ALSO_WIDTH    0.02

struct opening opening_make(double d, double cd, const struct oil *oil)
{
    if (isnan(cd) || cd <= 0)
        cd = CD_SHARP;
    double ret = (cd / DELTA_LAMINAR) * (cd / DELTA_LAMINAR);
    double speed = ret * oil->viscosity / (cd * d);
    return (struct opening){.gain = cd * (PI / 4 * d * d) * sqrt(2 / oil->density),
                            .transition = oil->density / 2 * speed * speed};
}

double gap_conductance(double bore, double gap, double e, double land, const struct oil *oil)
{
    if (isnan(e))
        e = 0;
    return PI * bore * gap * gap * gap * (1 + 1.5 * e * e) / (12 * oil->density * oil->viscosity * land);
}

double spool_range(const struct valve *v, bool broken)
{
    double range = broken ? 0 : v->rate * v->travel;
    if (range > 0) /* NAN: false */
        return range;
    return fmax(broken ? 0 : RANGE_SHARE * v->preload, RANGE_LEAST);
}

double limiting_opening(const struct valve *v, double p, double *slope)
{
    double width = fmax(v->droop, DROOP_LEAST) * v->limit;
    *slope = -1 / width;
    return (v->limit - p) / width;
}

double limiting_exhaust(const struct valve *v, double p, double *slope)
{
    *slope = 1 / (EXHAUST_WIDTH * v->limit);
    return (p - EXHAUST_FROM * v->limit) * *slope;
}

double relief_opening(const struct valve *v, double p, double *slope)
{
    *slope = 1 / (RELIEF_WIDTH * v->cracks_at);
    return (p - v->cracks_at) * *slope;
}

double also_feeds_opening(double p, double setting, double *by_p, double *by_setting)
{
    *by_p = 1 / (ALSO_WIDTH * setting);
    *by_setting = -p / (ALSO_WIDTH * setting * setting);
    return (p / setting - ALSO_FROM) / ALSO_WIDTH;
}

double seat_opening(double own, double other)
{
    return 1 + (own - other) / SEAT_WIDTH;
}

double source_flow(double q, double gain, double setting, double p, double capacity, enum source_mode *mode)
{
    double wanted = q + gain * (setting - p);
    *mode = wanted > capacity ? SOURCE_AT_CAPACITY : wanted < 0 ? SOURCE_GIVES_NOTHING : SOURCE_HOLDS;
    return *mode == SOURCE_HOLDS ? wanted : *mode == SOURCE_AT_CAPACITY ? capacity : 0;
}

double regulated_setting(double base, double boost, double at_most, bool *clamped)
{
    double setting = base + boost;
    *clamped = setting >= at_most; /* NAN: false */
    return *clamped ? at_most : setting;
}
