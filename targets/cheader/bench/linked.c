/* An application that calls init, ASK, a set call or mute, and run, or with INTERRUPT what an
 * interrupt calls that a codec's transfers give samples of 32 bits. */
#define BARE
#include HEADER
#include "work.h"

static THE(_state) state;
static int32_t wide[CHANNELS * WAYS * 32];
static float in[32];
static float out[CHANNELS * WAYS][32];

int main(void)
{
    const float *ins[CHANNELS];
    float *outs[CHANNELS * WAYS];
    int bad = THE(_init)(&state, RATE);

    for (int c = 0; c < CHANNELS; c++) {
        ins[c] = in;
    }
    for (int w = 0; w < CHANNELS * WAYS; w++) {
        outs[w] = out[w];
    }
    bad |= ASK(&state, 0, 1);
#ifdef INTERRUPT
    bad |= THE(_run_frames_int32)(&state, wide, wide, 32);
#else
    bad |= THE(_run)(&state, ins, outs, 32);
#endif
    return bad + sections[0];
}
