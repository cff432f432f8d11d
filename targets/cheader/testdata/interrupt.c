#include "heron_float32.h"

#define FRAMES 32 /* of half of the buffer that the codec is played from */

/* Filled and emptied by the codec's transfers, halves in turn. */
extern int32_t received[2][FRAMES * HERON_CHANNELS];
extern int32_t sent[2][FRAMES * HERON_CHANNELS * HERON_WAYS];
extern void start_codec(void);
extern int choice_from_panel(void); /* 0 to HERON_PLACEMENT_CHOICES - 1 */
extern void show(const char *text);

static heron_state filters;

/* The interrupt at the end of each half's transfer. */
void half_done(int half);
void half_done(int half)
{
    if (heron_run_frames_int32(&filters, received[half], sent[half], FRAMES) != 0) {
        int i;

        for (i = 0; i < FRAMES * HERON_CHANNELS * HERON_WAYS; i++) {
            sent[half][i] = 0; /* never initialised: stay silent */
        }
    }
}

int main(void)
{
    if (heron_init(&filters, 48000u) != 0) {
        return 1;
    }
    start_codec(); /* from here on half_done comes at any time */
    for (;;) {
        const int choice = choice_from_panel();
        int c;

        for (c = 0; c < HERON_CHANNELS; c++) { /* no masking: each call writes one byte */
            (void)heron_set_placement(&filters, c, (enum heron_placement)choice);
        }
        show(heron_placement_names[choice]);
    }
}
