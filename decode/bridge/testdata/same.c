/* The same few hundred lines on every processor: the host's, an ARM without an
 * operating system's library, an AVR. The test compares them byte by byte. */
#define BL_IMPLEMENTATION
#include "benchline.h"

static void put(const char *bytes, uint8_t n);

#if defined(__AVR__)
#include <avr/io.h>
#include <avr/interrupt.h>
#include <avr/sleep.h>
static void put(const char *bytes, uint8_t n)
{
    UCSR0B = (uint8_t)(1u << TXEN0);
    while (n-- > 0) {
        while ((UCSR0A & (1u << UDRE0)) == 0)
            ;
        UDR0 = (uint8_t)*bytes++;
    }
}
static void stop(void)
{
    cli();
    sleep_mode(); /* for good, with interrupts off: the emulator ends */
}
#elif defined(__arm__)
/* System calls of Linux on ARM, for an emulator of user programs: 4 writes,
 * 1 ends. */
static int call(int number, int a, const char *b, int c)
{
    register int r7 __asm__("r7") = number;
    register int r0 __asm__("r0") = a;
    register const char *r1 __asm__("r1") = b;
    register int r2 __asm__("r2") = c;
    __asm__ volatile("svc 0" : "+r"(r0) : "r"(r1), "r"(r2), "r"(r7) : "memory");
    return r0;
}
static void put(const char *bytes, uint8_t n) { call(4, 1, bytes, n); }
static void stop(void) { call(1, 0, NULL, 0); }
int main(void);
void _start(void);
void _start(void) { (void)main(); }
/* the compiler may ask for this one in any program */
void *memset(void *to, int c, size_t n);
void *memset(void *to, int c, size_t n)
{
    volatile char *p = to;
    while (n-- > 0)
        *p++ = (char)c;
    return to;
}
#else
#include <stdio.h>
static void put(const char *bytes, uint8_t n) { fwrite(bytes, 1, n, stdout); }
static void stop(void) {}
#endif

#ifdef BL_STREAM
static bool sink(void *context, bl_tag tag, char c)
{
    (void)context;
    (void)tag;
    put(&c, 1);
    return true;
}
#else
static bool sink(void *context, bl_tag tag, const char *line, uint8_t length)
{
    (void)context;
    (void)tag;
    put(line, length);
    return true;
}
#endif

static uint32_t next(void)
{
    static uint32_t x = 2463534242u;
    x ^= x << 13;
    x ^= x >> 17;
    x ^= x << 5;
    return x;
}

/* Any number, short ones as often as long ones. */
static int32_t number(void)
{
    uint8_t shift = (uint8_t)(next() >> 27);
    uint32_t v = (next() >> 1) >> shift;
    return (next() & 1u) != 0 ? -(int32_t)v : (int32_t)v;
}

static uint32_t at;

/* The clock of the next line. It steps here, not in the calls: C does not say in
 * which order arguments are worked out. */
#define AT (at += 715827883u)

static void lines(bl_bridge *b)
{
    static const bl_craft_info craft = {"Marsh Heron", BL_QUAD_PLUS, {4, 14, 3, 1785, 65512, 4}, 1, 2};
    int32_t v[10];
    uint8_t i, d = (uint8_t)(next() >> 29);
    uint8_t e = (uint8_t)(next() >> 29);
    for (i = 0; i < 10; i++)
        v[i] = number();
    bl_hello(b, AT, "bench-1", 4000000000u);
    bl_craft(b, AT, &craft);
    bl_axes(b, AT, v, d, e);
    bl_out(b, AT, v, 8, e);
    bl_erpm(b, AT, v, 4, 0);
    bl_temp(b, AT, v, 6, d);
    bl_accel(b, AT, v, d);
    bl_load(b, AT, v[3], d);
    bl_pack(b, AT, v + 4, d, e);
    bl_air(b, AT, v + 6, d, e);
    v[0] = v[1] = 1;
    bl_state(b, AT, v, d);
    bl_set(b, AT, "idle_ready", v[8], d);
    bl_note(b, AT, "tether hooked, area clear*\x01");
#ifdef BL_FLOAT
    bl_load(b, AT, bl_scaled((float)v[9] / 65536.0f, 3), 3);
#endif
}

int main(void)
{
    static bl_bridge b;
    uint8_t i;
    bl_init(&b, sink, NULL);
    b.seq = 65500;
    for (i = 0; i < 30; i++)
        lines(&b);
    {
        char end[4];
        end[0] = 'e';
        end[1] = 'n';
        end[2] = 'd';
        end[3] = '\n';
        put(end, 4);
    }
    stop();
    return 0;
}
