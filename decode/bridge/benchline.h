/* benchline.h: makes lines of the bench line protocol, version 1, on anything
 * from an 8-bit microcontroller up. C99, one header, no malloc, no stdio, no
 * C library. ../PROTOCOL.md says what the lines are; README.md how to use this.
 *
 * In ONE source file, before the include:
 *
 *     #define BL_IMPLEMENTATION
 *     #include "benchline.h"
 *
 * Options, the same in every file that includes it:
 *
 *     BL_FLOAT        adds bl_scaled(), which takes a float
 *     BL_CRC_NIBBLE   checksum by a table of 64 bytes: two steps a byte, not eight
 *     BL_LINE_SIZE n  bytes of the line buffer, 168..240. The longest line of
 *                     numbers and names has 165; only a note is cut sooner.
 *
 * NUMBERS are whole numbers with a count of decimals: 1612 with 2 decimals is
 * 16.12. Up to 9 decimals. BL_NONE is a value that was not measured. Zeros at
 * the end of a fraction are not sent: 16.10 goes out as 16.1, the same value.
 *
 * WHAT IS WRONG never goes out as a value, for a person acts on what stands
 * there. A value outside the protocol's range becomes "not measured" and is
 * counted in out_of_range: the host then calls it unknown at once. It is not
 * clamped (a clamped value looks true), and it does not cost the line's other
 * values, which may be the ones that ring. A text's bytes that could tear a
 * line become '_'. A call that makes no sense (a setting without a proper
 * name) gives no line at all, and BL_REFUSED.
 *
 * WHOLE OR NOT AT ALL: a line is built in the bridge's own buffer and handed to
 * the sink once it is complete. A sink that has no room for all of it takes
 * none of it: the line is gone, its number is not used again, and the host sees
 * by the gap that one is missing.
 *
 * ONE TASK owns a bl_bridge. There is no other state: two bridges do not know
 * each other. The sink must not call back into its own bridge.
 */
#ifndef BENCHLINE_H
#define BENCHLINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define BL_PROTOCOL 1
#define BL_MOTORS_MAX 8
#define BL_NAME_MAX 40 /* bytes of a name; a longer one is cut */
#define BL_NONE INT32_MIN /* not measured */

#ifndef BL_LINE_SIZE
#define BL_LINE_SIZE 240
#endif
#if BL_LINE_SIZE < 168 || BL_LINE_SIZE > 240
#error "BL_LINE_SIZE is 168 to 240"
#endif

/* made from format.go by go test ./decode/bridge -run Table -update */
typedef enum {
    BL_HELLO, BL_CRAFT, BL_AXES, BL_OUT, BL_ERPM, BL_ACCEL, BL_LOAD, BL_TEMP, BL_PACK, BL_AIR, BL_STATE, BL_SET, BL_NOTE
} bl_tag;
/* end of made */

typedef enum {
    BL_SENT,    /* the sink has the whole line */
    BL_DROPPED, /* the sink had no room: the line is lost, and the host sees it */
    BL_REFUSED  /* no such line can be: nothing was sent, nothing is missing */
} bl_result;

/* A sink takes a whole line, its LF included, and returns true; or it takes
 * nothing and returns false. It copies what it keeps, and never waits: a bridge
 * that waits for a port is late with everything. The tag is there so that a
 * port that fills up can lose what matters least (see benchring.h). */
#ifndef BL_STREAM
typedef bool bl_sink(void *context, bl_tag tag, const char *line, uint8_t length);
#else
typedef bool bl_sink(void *context, bl_tag tag, char c);
#endif

typedef struct {
    bl_sink *sink;
    void *context;         /* the sink's own */
    uint32_t crc;          /* of the line in work, as all below but the counters */
    uint16_t seq;          /* number of the next line; wraps by itself */
    uint16_t dropped;      /* lines that the sink did not take, modulo 2^16 */
    uint16_t out_of_range; /* values that could not be right, modulo 2^16 */
    uint8_t tag;
    uint8_t length;        /* bytes so far */
    uint8_t commas;        /* that go out before the next byte, if one comes */
    uint8_t decimals[2];   /* of the first unit of its numbers, and of the second */
#ifdef BL_STREAM
    bool lost;             /* the sink had no room for all of it */
#else
    char line[BL_LINE_SIZE];
#endif
} bl_bridge;

/* Places in the array of bl_axes: deg/s, deg/s, -1..1, 0..1. */
enum {
    BL_RATE_ROLL, BL_RATE_PITCH, BL_RATE_YAW,
    BL_DEMAND_ROLL, BL_DEMAND_PITCH, BL_DEMAND_YAW,
    BL_CONTROL_ROLL, BL_CONTROL_PITCH, BL_CONTROL_YAW,
    BL_THROTTLE, BL_AXES_COUNT
};

/* Places in the array of bl_state: flags are 0, 1 or BL_NONE. */
enum {
    BL_ARMED, BL_STOPPED, BL_GROUND,
    BL_STICK_THROTTLE, BL_STICK_ROLL, BL_STICK_PITCH, BL_STICK_YAW,
    BL_CONTROL_OK, BL_STATE_COUNT
};

/* How the motors are placed.
 * made from format.go by go test ./decode/bridge -run Table -update */
typedef enum {
    BL_QUAD_X, BL_QUAD_PLUS, BL_HEX_X, BL_OCTO_X, BL_TRI, BL_CUSTOM, BL_LAYOUT_NONE
} bl_layout;
/* end of made */

/* Places in bl_craft_info.number: whole numbers, then mm and g. */
enum {
    BL_MOTORS, BL_MAGNET_POLES, BL_BLADES, BL_PROPELLER_MM, BL_MASS_G, BL_CELLS, BL_CRAFT_COUNT
};

/* What is on the bench. BL_NONE where the bridge does not know. */
typedef struct {
    const char *name; /* NULL: not known */
    bl_layout layout;
    int32_t number[BL_CRAFT_COUNT];
    uint8_t propeller_decimals;
    uint8_t mass_decimals;
} bl_craft_info;

/* Empties the bridge. The first line has number 0. */
void bl_init(bl_bridge *b, bl_sink *sink, void *context);

/* Who the bridge is. The boot number is another one after every start: a
 * counter in memory that outlives the power. At start, then every second. */
bl_result bl_hello(bl_bridge *b, uint32_t time_us, const char *name, uint32_t boot);

/* What is on the bench. At start, then every 10 s. */
bl_result bl_craft(bl_bridge *b, uint32_t time_us, const bl_craft_info *craft);

/* Rates, demands, rate-controller outputs and throttle of ONE control step. */
bl_result bl_axes(bl_bridge *b, uint32_t time_us, const int32_t value[BL_AXES_COUNT],
                  uint8_t rate_decimals, uint8_t share_decimals);

/* One value for each motor, m1 first, 0 to 8 of them. out: 0..1; erpm:
 * ELECTRICAL turns a minute; temp: degrees Celsius. */
bl_result bl_out(bl_bridge *b, uint32_t time_us, const int32_t *value, uint8_t motors, uint8_t decimals);
bl_result bl_erpm(bl_bridge *b, uint32_t time_us, const int32_t *value, uint8_t motors, uint8_t decimals);
bl_result bl_temp(bl_bridge *b, uint32_t time_us, const int32_t *value, uint8_t motors, uint8_t decimals);

/* Specific force x forward, y right, z down, m/s^2: 0, 0, -9.81 at rest. */
bl_result bl_accel(bl_bridge *b, uint32_t time_us, const int32_t value[3], uint8_t decimals);

/* Lift on the stand, newtons, tared at rest, up is +. */
bl_result bl_load(bl_bridge *b, uint32_t time_us, int32_t newtons, uint8_t decimals);

/* Volts of the whole pack; amperes out of it, charging is negative. */
bl_result bl_pack(bl_bridge *b, uint32_t time_us, int32_t volts, uint8_t volt_decimals,
                  int32_t amps, uint8_t amp_decimals);

/* Pascal and degrees Celsius. */
bl_result bl_air(bl_bridge *b, uint32_t time_us, int32_t pascal, uint8_t pascal_decimals,
                 int32_t degrees, uint8_t degree_decimals);

/* What the craft does and what the pilot asks. Also at once on every change. */
bl_result bl_state(bl_bridge *b, uint32_t time_us, const int32_t value[BL_STATE_COUNT], uint8_t stick_decimals);

/* A setting as the craft reports it. The name is 1 to 40 of a-z 0-9 _ -, else
 * BL_REFUSED: a changed or cut name could be that of another setting. */
bl_result bl_set(bl_bridge *b, uint32_t time_us, const char *name, int32_t value, uint8_t decimals);

/* A word to the person at the bench; cut to what a line holds. */
bl_result bl_note(bl_bridge *b, uint32_t time_us, const char *text);

#ifdef BL_FLOAT
/* v times 10^decimals, rounded to the nearest whole number (halves away from
 * zero); BL_NONE where v is not finite or the result does not fit. Holds under
 * -ffast-math too, for it looks at the bits. float is IEEE 754 binary32. */
int32_t bl_scaled(float v, uint8_t decimals);
#endif

#ifdef __cplusplus
}
#endif
#endif /* BENCHLINE_H */

#if defined(BL_IMPLEMENTATION) && !defined(BL_IMPLEMENTED)
#define BL_IMPLEMENTED

/* On an AVR constants lie in RAM unless they are put in flash, and are read by
 * other instructions there. */
#ifdef __AVR__
#include <avr/pgmspace.h>
#define BL_ROM PROGMEM
#define BL_BYTE(p) pgm_read_byte(p)
#define BL_WORD32(p) pgm_read_dword(p)
#else
#define BL_ROM
#define BL_BYTE(p) (*(p))
#define BL_WORD32(p) (*(p))
#endif

#define BL_TAIL 10 /* "*", eight digits, LF */
#define BL_ROOM (BL_LINE_SIZE - BL_TAIL)

enum { /* flags of a row, beside a count */
    BL_ROW_COUNT = 7, /* how many fields in a row have this range, less one */
    BL_ROW_ABOVE = 8, /* the least is above zero; else it is zero, or min is how far below */
    BL_ROW_WHOLE = 16,
    BL_ROW_EVEN = 32,
    BL_ROW_OR_ZERO = 64,
    BL_ROW_SECOND = 128 /* takes the second count of decimals: another unit */
};

/* A limit in one byte: five bits, and the zeros behind them in three. */
#define BL_LIMIT(m, zeros) ((m) | (zeros) << 5)
#define BL_ANY 31 /* as a limit: none */

typedef struct {
    uint8_t min, max; /* limits without a sign, both included */
    uint8_t flags;
} bl_row;

/* made from format.go by go test ./decode/bridge -run Table -update */
/* the tags, then the layouts */
static const char bl_words[] BL_ROM =
    "hello\0" "craft\0" "axes\0" "out\0" "erpm\0" "accel\0" "load\0" "temp\0" "pack\0" "air\0"
    "state\0" "set\0" "note\0" "quad-x\0" "quad-plus\0" "hex-x\0" "octo-x\0" "tri\0" "custom\0";

/* the first row of each tag */
static const uint8_t bl_first[13] BL_ROM = {0, 0, 6, 10, 11, 12, 13, 14, 15, 17, 19, 23, 24};

static const bl_row bl_rows[24] BL_ROM = {
    {1, 8, 0 | BL_ROW_WHOLE | BL_ROW_ABOVE}, /* motors */
    {2, BL_LIMIT(6, 1), 0 | BL_ROW_WHOLE | BL_ROW_EVEN | BL_ROW_ABOVE}, /* magnet_poles */
    {2, 8, 0 | BL_ROW_WHOLE | BL_ROW_ABOVE}, /* blades */
    {1, BL_LIMIT(5, 3), 0 | BL_ROW_OR_ZERO | BL_ROW_ABOVE}, /* propeller_mm */
    {1, BL_LIMIT(1, 6), 0 | BL_ROW_OR_ZERO | BL_ROW_SECOND | BL_ROW_ABOVE}, /* mass_g */
    {1, 14, 0 | BL_ROW_WHOLE | BL_ROW_ABOVE}, /* cells */
    {BL_LIMIT(4, 3), BL_LIMIT(4, 3), 2}, /* rate_roll to rate_yaw */
    {BL_LIMIT(2, 4), BL_LIMIT(2, 4), 2}, /* demand_roll to demand_yaw */
    {1, 1, 2 | BL_ROW_SECOND}, /* control_roll to control_yaw */
    {0, 1, 0 | BL_ROW_SECOND}, /* throttle */
    {0, 1, 7}, /* out_1 to out_8 */
    {0, BL_LIMIT(1, 6), 7}, /* erpm_1 to erpm_8 */
    {BL_LIMIT(4, 2), BL_LIMIT(4, 2), 2}, /* force_x to force_z */
    {BL_LIMIT(2, 3), BL_LIMIT(2, 3), 0}, /* load_n */
    {BL_LIMIT(4, 1), BL_LIMIT(25, 1), 7}, /* temp_1 to temp_8 */
    {0, BL_LIMIT(8, 1), 0}, /* volts */
    {BL_LIMIT(5, 1), BL_LIMIT(1, 3), 0 | BL_ROW_SECOND}, /* amps */
    {BL_LIMIT(3, 4), BL_LIMIT(12, 4), 0 | BL_ROW_ABOVE}, /* pascal */
    {BL_LIMIT(1, 2), BL_LIMIT(2, 2), 0 | BL_ROW_SECOND}, /* air_c */
    {0, 1, 2 | BL_ROW_WHOLE}, /* armed to ground */
    {0, 1, 0}, /* stick_throttle */
    {1, 1, 2}, /* stick_roll to stick_yaw */
    {0, 1, 0 | BL_ROW_WHOLE}, /* control_ok */
    {BL_ANY, BL_ANY, 0}, /* value */
};
/* end of made */

/* 10^9 to 1. Digits come by subtracting these: a processor that cannot divide
 * needs no division, and the first digit comes first. */
static const uint32_t bl_powers[10] BL_ROM = {
    1000000000u, 100000000u, 10000000u, 1000000u, 100000u, 10000u, 1000u, 100u, 10u, 1u};

/* Takes a byte into the checksum (CRC-32C, Castagnoli, RFC 3720). */
static uint32_t bl_crc(uint32_t crc, uint8_t byte)
{
    crc ^= byte;
#ifdef BL_CRC_BITS
    for (byte = 8; byte > 0; byte--)
        crc = (crc >> 1) ^ (0x82F63B78u & (0u - (crc & 1u)));
#else
    /* 0x82F63B78, the reflected polynomial, moved over by each of 16 values */
    static const uint32_t table[16] BL_ROM = {
        0x00000000u, 0x105EC76Fu, 0x20BD8EDEu, 0x30E349B1u, 0x417B1DBCu, 0x5125DAD3u, 0x61C69362u, 0x7198540Du,
        0x82F63B78u, 0x92A8FC17u, 0xA24BB5A6u, 0xB21572C9u, 0xC38D26C4u, 0xD3D3E1ABu, 0xE330A81Au, 0xF36E6F75u};
    for (byte = 2; byte > 0; byte--)
        crc = (crc >> 4) ^ BL_WORD32(&table[crc & 15u]);
#endif
    return crc;
}

/* Writes a byte, and before it the commas that wait: those at the end of a line
 * are never written. */
static void bl_char(bl_bridge *b, char c)
{
    for (;;) {
        char next = b->commas != 0 ? ',' : c;
        b->crc = bl_crc(b->crc, (uint8_t)next);
#ifdef BL_STREAM
        b->length++;
        if (!b->lost && !b->sink(b->context, (bl_tag)b->tag, next))
            b->lost = true;
#else
        /* The sizes of names and numbers leave room for all; the test is here so
         * that no mistake elsewhere can ever write past the buffer. */
        if (b->length < BL_LINE_SIZE)
            b->line[b->length++] = next;
#endif
        if (b->commas == 0)
            return;
        b->commas--;
    }
}

/* Writes v / 10^decimals as a field. */
static void bl_digits(bl_bridge *b, uint32_t v, uint8_t decimals)
{
    uint8_t place = 9, from = decimals; /* no zeros before the first digit */
    for (;; place--) {
        uint32_t power = BL_WORD32(&bl_powers[9 - place]);
        char c = '0';
        for (; v >= power; v -= power)
            c++;
        if (c != '0')
            from = 9;
        if (place <= from)
            bl_char(b, c);
        if (place <= decimals && v == 0) /* nor behind the last */
            break;
        if (place == decimals)
            bl_char(b, '.');
    }
    b->commas++;
}

/* A limit times 10^decimals; the largest number where a value cannot reach it. */
static uint32_t bl_limit(uint8_t limit, uint8_t decimals)
{
    uint32_t n = limit & 31u;
    for (decimals = (uint8_t)(decimals + (limit >> 5)); decimals > 0; decimals--) {
        if (n >> 28 != 0)
            return UINT32_MAX;
        n *= 10u;
    }
    return limit == BL_ANY ? UINT32_MAX : n;
}

/* Writes count values by the rows of the line's tag. */
static void bl_values(bl_bridge *b, const int32_t *value, uint8_t count)
{
    const bl_row *row = &bl_rows[BL_BYTE(&bl_first[b->tag])];
    uint8_t in_row = 0;
    for (; count > 0; count--) {
        int32_t v = *value++;
        uint32_t size = v < 0 ? 0u - (uint32_t)v : (uint32_t)v;
        uint8_t flags = BL_BYTE(&row->flags), min = BL_BYTE(&row->min), decimals = 0;
        bool good;
        if ((flags & BL_ROW_WHOLE) == 0)
            decimals = b->decimals[(flags & BL_ROW_SECOND) != 0];
        good = decimals <= 9 && size <= INT32_MAX && size <= bl_limit(v < 0 ? min : BL_BYTE(&row->max), decimals);
        if ((flags & BL_ROW_ABOVE) != 0 && (v < 0 || size < bl_limit(min, decimals)))
            good = v == 0 && (flags & BL_ROW_OR_ZERO) != 0 && decimals <= 9;
        if ((flags & BL_ROW_EVEN) != 0 && (size & 1u) != 0)
            good = false;
        if (good) {
            if (v < 0)
                bl_char(b, '-');
            bl_digits(b, size, decimals);
        } else {
            b->commas++;
            if (v != BL_NONE)
                b->out_of_range++;
        }
        if (in_row++ == (flags & BL_ROW_COUNT)) {
            in_row = 0;
            row++;
        }
    }
}

/* Writes at most most bytes of a text as a field. */
static void bl_text(bl_bridge *b, const char *text, uint8_t most)
{
    if (text != NULL)
        for (; *text != '\0' && most > 0 && b->length < BL_ROOM; text++, most--) {
            char c = *text;
            bool bad = c < 0x20 || c > 0x7E || c == '*' || (c == ',' && b->tag != BL_NOTE);
            bl_char(b, bad ? '_' : c);
        }
    b->commas++;
}

/* Writes the word with that number in the list as a field. */
static void bl_word(bl_bridge *b, uint8_t number)
{
    const char *p = bl_words;
    char c;
    for (; number > 0; number--)
        while (BL_BYTE(p++) != '\0')
            ;
    while ((c = (char)BL_BYTE(p++)) != '\0')
        bl_char(b, c);
    b->commas++;
}

static void bl_begin(bl_bridge *b, uint32_t time_us, uint8_t tag)
{
    b->tag = tag;
    b->length = b->commas = 0;
    b->crc = 0xFFFFFFFFu;
#ifdef BL_STREAM
    b->lost = false;
#endif
    bl_word(b, tag);
    bl_digits(b, b->seq++, 0); /* counted now: a line that is lost has its number */
    bl_digits(b, time_us, 0);
}

/* Closes the line behind its last field and hands it over. */
static bl_result bl_end(bl_bridge *b)
{
    uint32_t crc = ~b->crc;
    uint8_t n;
    b->commas = 0;
    bl_char(b, '*');
    for (n = 8; n > 0; n--, crc <<= 4) {
        char digit = (char)('0' + (crc >> 28));
        bl_char(b, (char)(digit > '9' ? digit + ('A' - '9' - 1) : digit));
    }
    bl_char(b, '\n');
#ifdef BL_STREAM
    if (!b->lost)
        return BL_SENT;
#else
    if (b->sink(b->context, (bl_tag)b->tag, b->line, b->length))
        return BL_SENT;
#endif
    b->dropped++;
    return BL_DROPPED;
}

/* A line of count values: count and tag in one. */
static bl_result bl_line(bl_bridge *b, uint32_t time_us, const int32_t *value, uint8_t what)
{
    bl_begin(b, time_us, what & 15u);
    bl_values(b, value, what >> 4);
    return bl_end(b);
}
#define BL_WHAT(tag, count) (uint8_t)((tag) | (count) << 4)

static bool bl_is_word(const char *s)
{
    uint8_t n = 0;
    if (s == NULL)
        return false;
    for (; s[n] != '\0'; n++) {
        char c = s[n];
        bool good = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_' || c == '-';
        if (!good || n == BL_NAME_MAX)
            return false;
    }
    return n > 0;
}

void bl_init(bl_bridge *b, bl_sink *sink, void *context)
{
    b->sink = sink;
    b->context = context;
    b->seq = b->dropped = b->out_of_range = 0;
}

bl_result bl_hello(bl_bridge *b, uint32_t time_us, const char *name, uint32_t boot)
{
    bl_begin(b, time_us, BL_HELLO);
    bl_digits(b, BL_PROTOCOL, 0);
    bl_text(b, name, BL_NAME_MAX);
    bl_digits(b, boot, 0);
    return bl_end(b);
}

bl_result bl_craft(bl_bridge *b, uint32_t time_us, const bl_craft_info *craft)
{
    bl_begin(b, time_us, BL_CRAFT);
    bl_text(b, craft->name, BL_NAME_MAX);
    if ((unsigned)craft->layout < (unsigned)BL_LAYOUT_NONE)
        bl_word(b, (uint8_t)(BL_NOTE + 1 + craft->layout));
    else
        b->commas++;
    b->decimals[0] = craft->propeller_decimals;
    b->decimals[1] = craft->mass_decimals;
    bl_values(b, craft->number, BL_CRAFT_COUNT);
    return bl_end(b);
}

bl_result bl_axes(bl_bridge *b, uint32_t time_us, const int32_t value[BL_AXES_COUNT],
                  uint8_t rate_decimals, uint8_t share_decimals)
{
    b->decimals[0] = rate_decimals;
    b->decimals[1] = share_decimals;
    return bl_line(b, time_us, value, BL_WHAT(BL_AXES, BL_AXES_COUNT));
}

/* A craft with more motors than the protocol knows cannot be sent: the ones
 * left out would be unwatched and nobody told. */
static bl_result bl_motor_line(bl_bridge *b, uint32_t time_us, const int32_t *value, uint8_t motors,
                               uint8_t decimals, uint8_t tag)
{
    if (motors > BL_MOTORS_MAX)
        return BL_REFUSED;
    b->decimals[0] = decimals;
    return bl_line(b, time_us, value, BL_WHAT(tag, motors));
}

bl_result bl_out(bl_bridge *b, uint32_t time_us, const int32_t *value, uint8_t motors, uint8_t decimals)
{
    return bl_motor_line(b, time_us, value, motors, decimals, BL_OUT);
}

bl_result bl_erpm(bl_bridge *b, uint32_t time_us, const int32_t *value, uint8_t motors, uint8_t decimals)
{
    return bl_motor_line(b, time_us, value, motors, decimals, BL_ERPM);
}

bl_result bl_temp(bl_bridge *b, uint32_t time_us, const int32_t *value, uint8_t motors, uint8_t decimals)
{
    return bl_motor_line(b, time_us, value, motors, decimals, BL_TEMP);
}

bl_result bl_accel(bl_bridge *b, uint32_t time_us, const int32_t value[3], uint8_t decimals)
{
    b->decimals[0] = decimals;
    return bl_line(b, time_us, value, BL_WHAT(BL_ACCEL, 3));
}

bl_result bl_load(bl_bridge *b, uint32_t time_us, int32_t newtons, uint8_t decimals)
{
    b->decimals[0] = decimals;
    return bl_line(b, time_us, &newtons, BL_WHAT(BL_LOAD, 1));
}

static bl_result bl_pair(bl_bridge *b, uint32_t time_us, int32_t first, int32_t second, uint8_t tag)
{
    int32_t v[2];
    v[0] = first;
    v[1] = second;
    return bl_line(b, time_us, v, BL_WHAT(tag, 2));
}

bl_result bl_pack(bl_bridge *b, uint32_t time_us, int32_t volts, uint8_t volt_decimals,
                  int32_t amps, uint8_t amp_decimals)
{
    b->decimals[0] = volt_decimals;
    b->decimals[1] = amp_decimals;
    return bl_pair(b, time_us, volts, amps, BL_PACK);
}

bl_result bl_air(bl_bridge *b, uint32_t time_us, int32_t pascal, uint8_t pascal_decimals,
                 int32_t degrees, uint8_t degree_decimals)
{
    b->decimals[0] = pascal_decimals;
    b->decimals[1] = degree_decimals;
    return bl_pair(b, time_us, pascal, degrees, BL_AIR);
}

bl_result bl_state(bl_bridge *b, uint32_t time_us, const int32_t value[BL_STATE_COUNT], uint8_t stick_decimals)
{
    b->decimals[0] = stick_decimals;
    return bl_line(b, time_us, value, BL_WHAT(BL_STATE, BL_STATE_COUNT));
}

bl_result bl_set(bl_bridge *b, uint32_t time_us, const char *name, int32_t value, uint8_t decimals)
{
    if (!bl_is_word(name))
        return BL_REFUSED;
    bl_begin(b, time_us, BL_SET);
    bl_text(b, name, BL_NAME_MAX);
    b->decimals[0] = decimals;
    bl_values(b, &value, 1);
    return bl_end(b);
}

bl_result bl_note(bl_bridge *b, uint32_t time_us, const char *text)
{
    bl_begin(b, time_us, BL_NOTE);
    bl_text(b, text, BL_ROOM);
    return bl_end(b);
}

#ifdef BL_FLOAT
/* The exponent of v as it is stored: v is under 2^(e-126), 255 is not finite. */
static uint8_t bl_exponent(float v)
{
    union { float f; uint32_t bits; } u;
    u.f = v;
    return (uint8_t)(u.bits >> 23);
}

int32_t bl_scaled(float v, uint8_t decimals)
{
    float power = 1.0f; /* exact: 5^9 fits the 24 bits of a float */
    if (decimals > 9 || bl_exponent(v) == 255)
        return BL_NONE;
    for (; decimals > 0; decimals--)
        power *= 10.0f;
    v *= power;
    if (bl_exponent(v) >= 127 + 31) /* 2^31 and over */
        return BL_NONE;
    if (bl_exponent(v) < 127 + 23) /* beyond 2^23 a float is whole already */
        v += v < 0.0f ? -0.5f : 0.5f;
    return (int32_t)v;
}
#endif
#endif /* BL_IMPLEMENTATION */
