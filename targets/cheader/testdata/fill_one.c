
/* What every call on s returns: 1 where all refuse and nothing was touched, 0 where all but those
 * of the channel beyond are accepted, 2 for anything else. */
static int answers_STEM(STEM_state *s)
{
    static TYPE samples[UPPER_CHANNELS * UPPER_WAYS][SAMPLES];
    static TYPE before[UPPER_CHANNELS * UPPER_WAYS][SAMPLES];
    static TYPE frames[UPPER_CHANNELS * UPPER_WAYS * SAMPLES];
    static int32_t integers[UPPER_CHANNELS * UPPER_WAYS * SAMPLES];
    static TYPE silence[SAMPLES];
    const TYPE *in[UPPER_CHANNELS];
    TYPE *out[UPPER_CHANNELS * UPPER_WAYS];
    STEM_state *was = malloc(sizeof *was);
    int refused = 0;
    int calls = 0;
    int touched;
    int channel;
    int w;

    if (was == NULL) {
        return 2;
    }
    memcpy(was, s, sizeof *was);
    fill(samples, sizeof samples, 0x33);
    memcpy(before, samples, sizeof samples);
    for (channel = 0; channel < UPPER_CHANNELS; channel++) {
        in[channel] = silence;
    }
    for (w = 0; w < UPPER_CHANNELS * UPPER_WAYS; w++) {
        out[w] = samples[w];
    }
    refused += STEM_run(s, in, out, SAMPLES);
    refused += STEM_run(s, in, out, 0);
    refused += STEM_run_frames(s, frames, &frames[0], 0);
    refused += STEM_run_frames_int32(s, integers, &integers[0], 0);
    calls += 4;
    for (channel = 0; channel < UPPER_CHANNELS; channel++) {
        refused += STEM_mute(s, channel, 0) + STEM_reset_channel(s, channel);
        refused += STEM_muted(s, channel) < 0 ? 1 : 0;
        refused += STEM_garbage(s, channel) < 0 ? 1 : 0;
        calls += 4;
SETTINGS
    }
    if (STEM_mute(s, UPPER_CHANNELS, 1) != 1 || STEM_reset_channel(s, -1) != 1) {
        return 2;
    }
    refused += STEM_set_rate(s, HZu);
    calls++;
    STEM_reset(s);
    touched = memcmp(before, samples, sizeof samples) != 0 || memcmp(was, s, sizeof *was) != 0;
    free(was);
    if (refused == 0) {
        return 0;
    }
    return refused == calls && touched == 0 ? 1 : 2;
}

static int fill_STEM(void)
{
    static const int patterns[5] = { 0x00, 0x5a, 0xa5, 0xff, 256 };
    STEM_state *s = malloc(sizeof *s);
    size_t at;
    int tell = 0;
    int i;

    if (s == NULL) {
        return 1;
    }
    /* Never initialised, and init with a rate that there is not. */
    for (i = 0; i < 2003; i++) {
        fill(s, sizeof *s, patterns[i < 5 ? i : 4]);
        if (answers_STEM(s) != 1 || STEM_init(s, 12345u) != 1 || answers_STEM(s) != 1) {
            printf("STEM: a state of pattern %d is not refused\n", i);
            return 1;
        }
    }
    /* Whatever the bytes are, init makes a state of it. */
    for (i = 0; i < 5; i++) {
        fill(s, sizeof *s, patterns[i]);
        if (STEM_init(s, HZu) != 0 || answers_STEM(s) != 0) {
            printf("STEM: init leaves pattern %d refused\n", i);
            return 1;
        }
    }
    /* Each byte of the two words tells of init. */
    for (at = 0u; at < sizeof s->ready + sizeof s->check; at++) {
        unsigned char *one = at < sizeof s->ready ? (unsigned char *)&s->ready + at
            : (unsigned char *)&s->check + (at - sizeof s->ready);
        unsigned char was = *one;

        if (STEM_init(s, HZu) != 0) {
            return 1;
        }
        *one = (unsigned char)(was ^ 0x10u);
        tell += answers_STEM(s) == 1;
    }
    free(s);
    printf("STEM: %d bytes\n", tell);
    return 0;
}
