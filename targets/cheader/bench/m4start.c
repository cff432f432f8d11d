/* A Cortex-M4 from reset to measure(), with the floating-point unit on, and out again: text goes
 * to the emulator by semihosting. The emulator's clock is set so that SysTick, which counts down
 * at 25 MHz, counts every fortieth instruction. */
#include <stdint.h>

extern uint32_t stack_top;
extern uint32_t data_from;
extern uint32_t data_start;
extern uint32_t data_end;
extern uint32_t bss_start;
extern uint32_t bss_end;

void start(void);
void say(const char *text, uint32_t value);
uint32_t instructions(void);
void measure(void);

static int ask(int what, const void *with)
{
    register int r0 __asm("r0") = what;
    register const void *r1 __asm("r1") = with;

    __asm volatile("bkpt 0xab" : "+r"(r0) : "r"(r1) : "memory");
    return r0;
}

/* text, and value / 100. */
void say(const char *text, uint32_t value)
{
    char line[40];
    char digits[12];
    int n = 0;
    int k = 0;

    while (*text != '\0') {
        line[n++] = *text++;
    }
    do {
        digits[k++] = (char)('0' + value % 10u);
        value /= 10u;
        if (k == 2) {
            digits[k++] = '.';
        }
    } while (value != 0u || k < 4);
    while (k > 0) {
        line[n++] = digits[--k];
    }
    line[n++] = '\n';
    line[n] = '\0';
    ask(4, line);
}

static volatile uint32_t *const systick = (volatile uint32_t *)0xe000e010u;

/* Instructions so far: 40 a tick, and at least one look between two turns of its 24 bits. */
uint32_t instructions(void)
{
    static uint32_t last = 0xffffffu;
    static uint32_t sum;
    const uint32_t here = systick[2];

    sum += (last - here) & 0xffffffu;
    last = here;
    return sum * 40u;
}

static void hang(void)
{
    for (;;) {
    }
}

void start(void)
{
    const uint32_t *from = &data_from;

    *(volatile uint32_t *)0xe000ed88u |= 0xfu << 20;
    __asm volatile("dsb\nisb");
    for (uint32_t *to = &data_start; to < &data_end; to++) {
        *to = *from++;
    }
    for (uint32_t *to = &bss_start; to < &bss_end; to++) {
        *to = 0;
    }
    systick[1] = 0xffffffu;
    systick[2] = 0;
    systick[0] = 5;
    measure();
    ask(0x18, (const void *)0x20026);
    hang();
}

__attribute__((section(".vectors"), used)) static void (*const vectors[])(void) = {
    (void (*)(void))&stack_top, start, hang, hang, hang, hang
};
