
/* Setting what is set changes no byte of the state, whatever went before; 0 where that holds. */
static int again_STEM(void)
{
    static STEM_state s;
    static STEM_state was;
    static TYPE in[40];
    static TYPE out[UPPER_WAYS][40];
    TYPE *ways[UPPER_WAYS];
    int w;
    int n;

    for (w = 0; w < UPPER_WAYS; w++) {
        ways[w] = out[w];
    }
    in[0] = (TYPE)(SCALE / 2.0);
    if (STEM_init(&s, HZu) != 0) {
        return 1;
    }
    /* Before the first sample, in the middle of a switch (1 sample) and after it. */
    for (n = 0; n < 40; n = 3 * n + 1) {
        if (STEM_run(&s, 0, in, ways, n) != 0) {
            return 1;
        }
CHANGES
        memcpy(&was, &s, sizeof was);
SETTINGS
        if (memcmp(&was, &s, sizeof was) != 0) {
            return 1;
        }
        if (STEM_run(&s, 0, in, ways, 1) != 0) {
            return 1;
        }
        memcpy(&was, &s, sizeof was);
SETTINGS
        if (memcmp(&was, &s, sizeof was) != 0) {
            return 1;
        }
    }
    return 0;
}
