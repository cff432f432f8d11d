/* What the programs share. Compiled with STEM and UPPER, the header's name in both cases; SECTIONS,
 * how many sections each cascade runs under the first choices; RATE. */
#define JOIN_(a, b) a##b
#define JOIN(a, b) JOIN_(a, b)
#define THE(what) JOIN(STEM, what)
#define OF(what) JOIN(UPPER, what)

enum { CHANNELS = OF(_CHANNELS), WAYS = OF(_WAYS), MOST = 256, MOST_SECTIONS = 32 };

static const int sections[1 + WAYS] = { SECTIONS };

#ifndef BARE
#include <stdio.h>

/* A figure beside its limit; atLeast is 1 where more is better. */
static inline void verdict(const char *what, double is, double limit, int at_least)
{
    printf("  %-44s %7.2f   limit %s %g%s\n", what, is, at_least ? ">=" : "<=", limit,
        (at_least ? is >= limit : is <= limit) ? "" : "   MISSED");
}
#endif
