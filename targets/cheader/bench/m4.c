/* The emitted filters on an emulated Cortex-M4, where every instruction counts as one: an example
 * of what a core without caches does. Start-up and counting are in m4start.c. */
#define BARE
#include HEADER
#include "work.h"

void say(const char *text, uint32_t value);
uint32_t instructions(void);
void measure(void);

static THE(_state) state;
#ifdef WHOLE /* samples are whole numbers */
typedef int32_t sample;
#define INPUT(x) ((sample)(x) / 1024)
#else
typedef float sample;
#define INPUT(x) ((sample)(int32_t)(x) * (0.25f / 2147483648.0f))
#endif
static sample in[CHANNELS][64];
static sample out[CHANNELS * WAYS][64];

void measure(void)
{
    static const int blocks[] = { 64, 32, 16, 8, 4, 2, 1 };
    static const char *const names[] = { "64 ", "32 ", "16 ", "8 ", "4 ", "2 ", "1 " };
    const sample *ins[CHANNELS];
    sample *outs[CHANNELS * WAYS];
    uint32_t x = 1;
    uint32_t work = 0;

    for (int c = 0; c < CHANNELS; c++) {
        ins[c] = in[c];
        for (int i = 0; i < 64; i++) {
            x = x * 1664525u + 1013904223u;
            in[c][i] = INPUT(x);
        }
    }
    for (int w = 0; w < CHANNELS * WAYS; w++) {
        outs[w] = out[w];
    }
    for (int c = 0; c <= WAYS; c++) {
        work += (uint32_t)(CHANNELS * sections[c]);
    }
    THE(_init)(&state, RATE);
    for (int i = 0; i < 200; i++) { /* the fade from silence is over */
        THE(_run)(&state, ins, outs, 64);
    }
    for (int k = 0; k < 7; k++) {
        const uint32_t start = instructions();

        for (int done = 0; done < 4096; done += blocks[k]) {
            THE(_run)(&state, ins, outs, blocks[k]);
        }
        say(names[k], (uint32_t)((uint64_t)(instructions() - start) * 100u / (4096u * work)));
    }
}
