/* Plays tones through emitted filters as a script on the standard input says, and writes
 * what comes out of the first channel: the ways of a frame, then the next frame, as floats.
 *
 *   play N HZ T N samples of a full-scale sine that goes on where it was, T turns ahead
 *   set K C     the choice C of setting K
 *   mute ON     0 or 1
 *   reset       of the channel
 *   save, load  all the memory of the filters and the place in the sine
 *
 * Its other half, filters.h, says what the emitted functions are called. */
#include "filters.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

#define MOST 61 /* samples in a block; they are of all lengths up to this */

static STATE filters, saved;
static double at, saved_at;
static unsigned turn = 1;

static int play(long n, double hz, double turns)
{
    static float in[MOST], out[CHANNELS * WAYS][MOST];
    const float *inputs[CHANNELS];
    float *outputs[CHANNELS * WAYS];
    int i, w;

    for (i = 0; i < CHANNELS; i++)
        inputs[i] = in;
    for (i = 0; i < CHANNELS * WAYS; i++)
        outputs[i] = out[i];
    while (n > 0) {
        int len;

        turn = turn * 1664525u + 1013904223u;
        len = 1 + (int)((turn >> 16) % MOST);
        if (len > n)
            len = (int)n;
        for (i = 0; i < len; i++)
            in[i] = (float)sin(2 * 3.14159265358979323846 * fmod(hz / RATE * (at + i) + turns, 1));
        at += len;
        n -= len;
        if (RUN(&filters, inputs, outputs, len) != 0)
            return 1;
        for (i = 0; i < len; i++) {
            for (w = 0; w < WAYS; w++) {
                if (fwrite(&out[w][i], sizeof out[w][i], 1, stdout) != 1)
                    return 1;
            }
        }
    }
    return 0;
}

int main(void)
{
    char word[8];
    int bad = INIT(&filters, RATE);

    while (!bad && scanf("%7s", word) == 1) {
        long n = 0;
        int k = 0, c = 0;
        double hz = 0, turns = 0;

        if (strcmp(word, "play") == 0) {
            bad = scanf("%ld %lf %lf", &n, &hz, &turns) != 3 || play(n, hz, turns);
        } else if (strcmp(word, "set") == 0) {
            bad = scanf("%d %d", &k, &c) != 2 || set(&filters, k, c);
        } else if (strcmp(word, "mute") == 0) {
            bad = scanf("%d", &c) != 1 || MUTE(&filters, 0, c);
        } else if (strcmp(word, "reset") == 0) {
            bad = RESET(&filters, 0);
        } else if (strcmp(word, "save") == 0) {
            saved = filters;
            saved_at = at;
        } else if (strcmp(word, "load") == 0) {
            filters = saved;
            at = saved_at;
        } else {
            bad = 1;
        }
    }
    return bad;
}
