
static int run_STEM(void)
{
    static STEM_state filters;
    static double samples[LONGEST];
    static TYPE in[LONGEST];
    static TYPE out[UPPER_WAYS][LONGEST];
    int32_t command[5];

    write_word((int32_t)sizeof filters);
    while (read_words(command, 5)) {
        const int channel = (int)command[1];

        switch (command[0]) {
        case 0:
            write_word(STEM_init(&filters, (uint32_t)command[1]));
            break;
        case 1:
            STEM_reset(&filters);
            break;
        case 2:
            switch (command[2]) {
SETTINGS
            default:
                return 1;
            }
            break;
        case 3: {
            const int n = (int)command[2];
            const int in_place = (int)command[3];
            TYPE *ways[UPPER_WAYS];
            int w;
            int i;

            if (n > LONGEST || (n > 0 && fread(samples, sizeof samples[0], (size_t)n, stdin) != (size_t)n)) {
                return 1;
            }
            for (i = 0; i < n; i++) {
                in[i] = (TYPE)(samples[i] * SCALE);
            }
            for (w = 0; w < UPPER_WAYS; w++) {
                ways[w] = w == in_place ? in : out[w];
            }
            write_word(STEM_run(&filters, channel, in, ways, n));
            for (w = 0; w < UPPER_WAYS && n > 0; w++) {
                for (i = 0; i < n; i++) {
                    samples[i] = (double)ways[w][i] / SCALE;
                }
                (void)fwrite(samples, sizeof samples[0], (size_t)n, stdout);
            }
            break;
        }
        default:
            return 1;
        }
    }
    return 0;
}
