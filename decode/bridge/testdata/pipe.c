/* Turns records on standard input into lines on standard output, for the tests.
 * A record is a byte that says what, then its parts, little-endian. Each tag
 * answers with its line, or "!dropped", or "!refused". */
#include <stdio.h>
#include <string.h>

#define BL_IMPLEMENTATION
#include "benchline.h"

#ifdef BL_STREAM
/* Bytes that wait for their line's end. A line that is refused is so at another
 * byte each time. */
static bool to_stdout(void *context, bl_tag tag, char c)
{
    static char line[BL_LINE_SIZE];
    static uint8_t length, refused_at;
    uint8_t n;
    int *refuse = context;
    (void)tag;
    if (*refuse > 0 && length >= refused_at) {
        --*refuse;
        refused_at = (uint8_t)((refused_at + 5) % 20);
        length = 0;
        return false;
    }
    line[length++] = c; /* one too many is for the sanitizer to see */
    if (c != '\n')
        return true;
    n = length;
    length = 0;
    return fwrite(line, 1, n, stdout) == n;
}
#else
static bool to_stdout(void *context, bl_tag tag, const char *line, uint8_t length)
{
    int *refuse = context;
    (void)tag;
    if (*refuse > 0) {
        --*refuse;
        return false;
    }
    return fwrite(line, 1, length, stdout) == length;
}
#endif

static uint8_t byte(void) { return (uint8_t)getchar(); }

static uint32_t word32(void)
{
    uint32_t v = byte();
    v |= (uint32_t)byte() << 8;
    v |= (uint32_t)byte() << 16;
    return v | (uint32_t)byte() << 24;
}

static int32_t number(void)
{
    uint32_t v = word32();
    int32_t n;
    memcpy(&n, &v, sizeof n);
    return n;
}

/* text reads a length and so many bytes; 0xFFFF is NULL. */
static const char *text(char *buffer)
{
    size_t n = byte();
    n |= (size_t)byte() << 8;
    if (n == 0xFFFF)
        return NULL;
    if (fread(buffer, 1, n, stdin) != n)
        return NULL;
    buffer[n] = '\0';
    return buffer;
}

static void numbers(int32_t *v, int n)
{
    while (n-- > 0)
        *v++ = number();
}

static bl_result motors(bl_bridge *b, int what, uint32_t at)
{
    int32_t v[255];
    uint8_t n = byte(), d = byte();
    numbers(v, n);
    if (what == BL_OUT)
        return bl_out(b, at, v, n, d);
    return what == BL_ERPM ? bl_erpm(b, at, v, n, d) : bl_temp(b, at, v, n, d);
}

static bl_result craft(bl_bridge *b, uint32_t at, char *buffer)
{
    bl_craft_info c;
    c.name = text(buffer);
    c.layout = (bl_layout)byte();
    c.propeller_decimals = byte();
    c.mass_decimals = byte();
    numbers(c.number, BL_CRAFT_COUNT);
    return bl_craft(b, at, &c);
}

static bl_result pair(bl_bridge *b, int what, uint32_t at)
{
    uint8_t d = byte(), e = byte();
    int32_t v[2];
    numbers(v, 2);
    return what == BL_PACK ? bl_pack(b, at, v, d, e) : bl_air(b, at, v, d, e);
}

static bl_result record(bl_bridge *b, int what)
{
    static char buffer[0x10000];
    const char *name;
    uint32_t at = word32();
    int32_t v[10];
    uint8_t d, e;
    switch (what) {
    case BL_HELLO:
        name = text(buffer);
        return bl_hello(b, at, name, word32());
    case BL_CRAFT:
        return craft(b, at, buffer);
    case BL_AXES:
        d = byte();
        e = byte();
        numbers(v, 10);
        return bl_axes(b, at, v, d, e);
    case BL_OUT:
    case BL_ERPM:
    case BL_TEMP:
        return motors(b, what, at);
    case BL_ACCEL:
        d = byte();
        numbers(v, 3);
        return bl_accel(b, at, v, d);
    case BL_LOAD:
        d = byte();
        return bl_load(b, at, number(), d);
    case BL_PACK:
    case BL_AIR:
        return pair(b, what, at);
    case BL_STATE:
        d = byte();
        numbers(v, 8);
        return bl_state(b, at, v, d);
    case BL_SET:
        name = text(buffer);
        d = byte();
        return bl_set(b, at, name, number(), d);
    default:
        return bl_note(b, at, text(buffer));
    }
}

/* extra does what is no line; false at the end of the input. */
static bool extra(bl_bridge *b, int what, int *refuse)
{
    union { uint32_t bits; float f; } u;
    static char buffer[0x10000];
    const char *bytes;
    uint32_t crc;
    switch (what) {
    case 'q': /* the next number */
        b->seq = (uint16_t)word32();
        return true;
    case 'r': /* the sink has no room for so many lines */
        *refuse = byte();
        return true;
    case 'c': /* what was counted */
        printf("%u %u %u\n", (unsigned)b->seq, (unsigned)b->dropped, (unsigned)b->out_of_range);
        return true;
    case 'k': /* a checksum */
        bytes = text(buffer);
        if (bytes == NULL)
            return false;
        for (crc = 0xFFFFFFFFu; *bytes != '\0'; bytes++)
            crc = bl_crc(crc, (uint8_t)*bytes);
        printf("%08lX\n", (unsigned long)(crc ^ 0xFFFFFFFFu));
        return true;
#ifdef BL_FLOAT
    case 'f':
        u.bits = word32();
        printf("%ld\n", (long)bl_scaled(u.f, byte()));
        return true;
#endif
    default:
        (void)u;
        return false;
    }
}

int main(void)
{
    bl_bridge b;
    int refuse = 0, what;
    static char out[1 << 16];
    setvbuf(stdout, out, _IOFBF, sizeof out);
    bl_init(&b, to_stdout, &refuse);
    while ((what = getchar()) != EOF) {
        if (what > BL_NOTE) {
            if (!extra(&b, what, &refuse))
                return 1;
            continue;
        }
        switch (record(&b, what)) {
        case BL_DROPPED:
            puts("!dropped");
            break;
        case BL_REFUSED:
            puts("!refused");
            break;
        case BL_SENT:
            break;
        }
    }
    return 0;
}
