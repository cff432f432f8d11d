/* Start-up of a Cortex-M with floating point, for tests: vectors, memory, main, and out. */
#include <stdint.h>

extern uint32_t top_of_stack, data_from, data_begin, data_end, bss_begin, bss_end;

int main(void);
void start(void);
static void stuck(void);

__attribute__((used, section(".vectors"))) static void (*const vectors[])(void) = {
    (void (*)(void))&top_of_stack, start, stuck, stuck, stuck, stuck, stuck
};

/* Asks the host, by semihosting (Arm, Semihosting for AArch32 and AArch64, 2.0). */
static void host(uint32_t what, const void *of)
{
    register uint32_t r0 __asm("r0") = what;
    register const void *r1 __asm("r1") = of;

    __asm volatile("bkpt 0xab" : "+r"(r0) : "r"(r1) : "memory");
}

static void leave(uint32_t code)
{
    const uint32_t block[2] = { 0x20026u, code };

    host(0x20u, block); /* SYS_EXIT_EXTENDED */
    for (;;) {
    }
}

static void stuck(void) { leave(99u); }

#ifdef COUNT
/* Counted by SysTick, which has 25 MHz here where an instruction takes 1 ns. */
static void tell(uint32_t n)
{
    char text[12];
    int i = 11;

    text[i] = '\0';
    text[--i] = '\n';
    do {
        text[--i] = (char)('0' + n % 10u);
        n /= 10u;
    } while (n > 0u);
    host(0x04u, &text[i]); /* SYS_WRITE0 */
}
#endif

void start(void)
{
    volatile uint32_t *const tick = (volatile uint32_t *)0xe000e010u;
    const uint32_t *from = &data_from;
    uint32_t *to;
    int code;

    *(volatile uint32_t *)0xe000ed88u |= 0xfu << 20; /* CPACR: floating point on */
    __asm volatile("dsb\n\tisb");
    for (to = &data_begin; to < &data_end; to++) {
        *to = *from++;
    }
    for (to = &bss_begin; to < &bss_end; to++) {
        *to = 0u;
    }
    tick[1] = 0xffffffu;
    tick[2] = 0u;
    tick[0] = 5u;
    code = main();
#ifdef COUNT
    tell((0xffffffu - tick[2]) * 40u);
#endif
    leave((uint32_t)code);
}
