/* Gives every entry point of a header states that init never saw, or whose bytes something
 * overwrote. The states stand on the heap, exactly as long as they are, for the address
 * sanitizer to find what reads or writes outside. The test puts the headers and one
 * fill_STEM per header around this file. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SAMPLES = 40 };

static uint32_t seed = 1u;

static unsigned char random_byte(void) /* Numerical Recipes, section 7.1 */
{
    seed = seed * 1664525u + 1013904223u;
    return (unsigned char)(seed >> 24);
}

static void fill(void *at, size_t n, int pattern) /* 256: random */
{
    size_t i;

    for (i = 0u; i < n; i++) {
        ((unsigned char *)at)[i] = pattern == 256 ? random_byte() : (unsigned char)pattern;
    }
}
