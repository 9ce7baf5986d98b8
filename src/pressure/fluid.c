/* The oil: viscosity at temperature. */
#include "pressure/laws.h"
#include <math.h>

#define CST 1e-6 /* m2/s */

/* log10 log10 (nu + 0.7), nu in cSt: a straight line over log10 T for mineral oils. */
static double walther(double nu)
{
    return log10(log10(nu / CST + 0.7));
}

struct oil oil_at(const struct fluid *f, double temperature)
{
    double a = walther(f->nu[0]), b = walther(f->nu[1]);
    double slope = (b - a) / (log10(f->t[1]) - log10(f->t[0]));
    double at = a + slope * (log10(temperature) - log10(f->t[0]));
    return (struct oil){.density = f->density, .viscosity = (pow(10, pow(10, at)) - 0.7) * CST};
}
