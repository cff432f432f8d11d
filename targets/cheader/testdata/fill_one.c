
/* What every call on s returns: 1 where all refuse and nothing was touched, 0 where all but the
 * channel beyond is accepted, 2 for anything else. */
static int answers_STEM(STEM_state *s)
{
    static TYPE in[SAMPLES];
    static TYPE out[UPPER_WAYS][SAMPLES];
    static TYPE before[UPPER_WAYS][SAMPLES];
    TYPE *ways[UPPER_WAYS];
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
    fill(out, sizeof out, 0x33);
    memcpy(before, out, sizeof out);
    for (w = 0; w < UPPER_WAYS; w++) {
        ways[w] = out[w];
    }
    for (channel = 0; channel < UPPER_CHANNELS; channel++) {
        refused += STEM_run(s, channel, in, ways, SAMPLES);
        refused += STEM_run(s, channel, in, ways, 0);
        calls += 2;
SETTINGS
    }
    if (STEM_run(s, UPPER_CHANNELS, in, ways, 1) != 1 || STEM_run(s, -1, in, ways, 1) != 1) {
        return 2;
    }
    STEM_reset(s);
    touched = memcmp(before, out, sizeof out) != 0 || memcmp(was, s, sizeof *was) != 0;
    free(was);
    if (refused == 0) {
        return 0;
    }
    return refused == calls && touched == 0 ? 1 : 2;
}

static int fill_STEM(void)
{
    static const int patterns[4] = { 0x00, 0x5a, 0xff, 256 };
    STEM_state *s = malloc(sizeof *s);
    size_t at;
    long told = 0;
    int i;

    if (s == NULL) {
        return 1;
    }
    /* Never initialised, and init with a rate that there is not. */
    for (i = 0; i < 2003; i++) {
        fill(s, sizeof *s, patterns[i < 4 ? i : 3]);
        if (answers_STEM(s) != 1 || STEM_init(s, 12345u) != 1 || answers_STEM(s) != 1) {
            printf("STEM: a state of pattern %d is not refused\n", i);
            return 1;
        }
    }
    /* Whatever the bytes are, init makes a state of it. */
    for (i = 0; i < 4; i++) {
        fill(s, sizeof *s, patterns[i]);
        if (STEM_init(s, HZu) != 0 || answers_STEM(s) != 0) {
            printf("STEM: init leaves pattern %d refused\n", i);
            return 1;
        }
    }
    /* The right word and rate, the rest random: nothing outside is touched. */
    for (i = 0; i < 2000; i++) {
        int rate = i % UPPER_RATES;

        fill(s, sizeof *s, 256);
        s->ready = UPPER_READY;
        s->rate = rate;
        told += answers_STEM(s) != 0;
    }
    /* One byte of a state in use is overwritten, of long ones by one of the patterns. */
    for (at = 0u; at < sizeof *s; at++) {
        for (i = 0; i < 4; i++) {
            if (sizeof *s > 8000u && (int)(at / 3u % 4u) != i) {
                continue;
            }
            if (STEM_init(s, HZu) != 0 || answers_STEM(s) != 0) {
                return 1;
            }
            fill((unsigned char *)s + at, 1u, patterns[i]);
            told += answers_STEM(s) != 0;
        }
    }
    free(s);
    printf("STEM: %ld\n", told);
    return 0;
}
