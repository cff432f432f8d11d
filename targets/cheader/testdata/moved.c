/* Runs noise, silence and noise again in blocks of all lengths from a given one on, moves the state
 * to other places meanwhile, resets a channel and feeds it what is no sample. Prints the size of the
 * state and a hash of all bits that come out. The test defines STEM, UPPER, TYPE, HZ and BLOCK (0: all lengths). */
#include <stdio.h>
#include <string.h>

enum { LONGEST = 100, ROOM = 80 };

static union {
    STEM_state first; /* so that the others are aligned for it, and no better */
    unsigned char bytes[sizeof(STEM_state) + ROOM];
} places;

static STEM_state *place(size_t at) { return (STEM_state *)(void *)&places.bytes[at]; }

int main(void)
{
    static TYPE in[UPPER_CHANNELS][LONGEST];
    static TYPE out[UPPER_CHANNELS * UPPER_WAYS][LONGEST];
    const TYPE *from[UPPER_CHANNELS];
    TYPE *to[UPPER_CHANNELS * UPPER_WAYS];
    uint32_t seed = 1u;
    uint64_t hash = 14695981039346656037u; /* FNV-1a */
    size_t at = 0u;
    int lanes = 0;
    int done = 0;
    int k;

    for (k = 0; k < UPPER_CHANNELS; k++) {
        from[k] = in[k];
    }
    for (k = 0; k < UPPER_CHANNELS * UPPER_WAYS; k++) {
        to[k] = out[k];
    }
    if (STEM_init(place(0u), HZu) != 0) {
        return 1;
    }
    for (k = 0; done < 30000; k++) {
        const int left = 100 - done % 100; /* what happens there does not depend on blocks */
        const int most = BLOCK > 0 ? BLOCK : k * 7 % LONGEST + 1;
        const int n = left < most ? left : most;
        const size_t next = (size_t)(k * 5) % (ROOM / sizeof(TYPE)) * sizeof(TYPE);
        int c;
        int i;

        if (k % 3 == 0) {
            memmove(place(next), place(at), sizeof(STEM_state));
            at = next;
        }
        for (i = 0; i < n; i++) {
            for (c = 0; c < UPPER_CHANNELS; c++) {
                seed = seed * 1664525u + 1013904223u; /* Numerical Recipes, section 7.1 */
                in[c][i] = done + i >= 9000 && done + i < 20000 ? (TYPE)0 : (TYPE)(int32_t)seed * (TYPE)(0.25 / 2147483648.0);
            }
        }
        if (done == 5000) {
            in[0][0] = (TYPE)1e30;
        }
        if (done == 7000 && STEM_reset_channel(place(at), 0) != 0) {
            return 1;
        }
        if (STEM_run(place(at), from, to, n) != 0) {
            return 1;
        }
#if !defined UPPER_NO_LANES
        lanes += place(at)->laned == 1u ? n : 0;
#endif
        for (i = 0; i < n; i++) {
            for (c = 0; c < UPPER_CHANNELS * UPPER_WAYS; c++) {
                unsigned char bits[sizeof(TYPE)];
                size_t b;

                memcpy(bits, &out[c][i], sizeof bits);
                for (b = 0u; b < sizeof bits; b++) {
                    hash = (hash ^ bits[b]) * 1099511628211u;
                }
            }
        }
        done += n;
    }
    printf("%d %llx %d\n", (int)sizeof(STEM_state), (unsigned long long)hash, lanes);
    return 0;
}
