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
typedef bool bl_sink(void *context, bl_tag tag, const char *line, uint8_t length);

typedef struct {
    bl_sink *sink;
    void *context;         /* the sink's own */
    uint16_t seq;          /* number of the next line; wraps by itself */
    uint16_t dropped;      /* lines that the sink did not take, modulo 2^16 */
    uint16_t out_of_range; /* values that could not be right, modulo 2^16 */
    uint8_t tag;           /* of the line in work, as all below */
    uint8_t length;        /* bytes in line */
    uint8_t end;           /* behind the last field that holds something */
    uint8_t decimals[2];   /* of the first unit of its numbers, and of the second */
    char line[BL_LINE_SIZE];
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

/* CRC-32C (Castagnoli, RFC 3720) of n bytes: E3069283 for "123456789". */
uint32_t bl_crc32c(const char *bytes, uint8_t n);

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

enum { /* flags of a row, in the two upper bits of the count and below */
    BL_ROW_COUNT = 15, /* how many fields in a row have this range */
    BL_ROW_WHOLE = 16,
    BL_ROW_EVEN = 32,
    BL_ROW_OR_ZERO = 64,
    BL_ROW_SECOND = 128 /* takes the second count of decimals: another unit */
};

typedef struct {
    int32_t min, max; /* both included */
    uint8_t flags;
} bl_row;

/* made from format.go by go test ./decode/bridge -run Table -update */
#define BL_TAG_SIZE 6
static const char bl_tags[13][BL_TAG_SIZE] BL_ROM = {
    "hello", "craft", "axes", "out", "erpm", "accel", "load", "temp", "pack", "air", "state", "set", "note"};

#define BL_LAYOUT_SIZE 10
static const char bl_layouts[6][BL_LAYOUT_SIZE] BL_ROM = {
    "quad-x", "quad-plus", "hex-x", "octo-x", "tri", "custom"};

/* the first row of each tag */
static const uint8_t bl_first[13] BL_ROM = {0, 0, 6, 10, 11, 12, 13, 14, 15, 17, 19, 23, 24};

static const bl_row bl_rows[24] BL_ROM = {
    {1, 8, 1 | BL_ROW_WHOLE}, /* motors */
    {2, 60, 1 | BL_ROW_WHOLE | BL_ROW_EVEN}, /* magnet_poles */
    {2, 8, 1 | BL_ROW_WHOLE}, /* blades */
    {1, 5000, 1 | BL_ROW_OR_ZERO}, /* propeller_mm */
    {1, 1000000, 1 | BL_ROW_OR_ZERO | BL_ROW_SECOND}, /* mass_g */
    {1, 14, 1 | BL_ROW_WHOLE}, /* cells */
    {-4000, 4000, 3}, /* rate_roll to rate_yaw */
    {-20000, 20000, 3}, /* demand_roll to demand_yaw */
    {-1, 1, 3 | BL_ROW_SECOND}, /* control_roll to control_yaw */
    {0, 1, 1 | BL_ROW_SECOND}, /* throttle */
    {0, 1, 8}, /* out_1 to out_8 */
    {0, 1000000, 8}, /* erpm_1 to erpm_8 */
    {-400, 400, 3}, /* force_x to force_z */
    {-2000, 2000, 1}, /* load_n */
    {-40, 250, 8}, /* temp_1 to temp_8 */
    {0, 80, 1}, /* volts */
    {-50, 1000, 1 | BL_ROW_SECOND}, /* amps */
    {30000, 120000, 1}, /* pascal */
    {-100, 200, 1 | BL_ROW_SECOND}, /* air_c */
    {0, 1, 3 | BL_ROW_WHOLE}, /* armed to ground */
    {0, 1, 1}, /* stick_throttle */
    {-1, 1, 3}, /* stick_roll to stick_yaw */
    {0, 1, 1 | BL_ROW_WHOLE}, /* control_ok */
    {-2147483647, 2147483647, 1}, /* value */
};
/* end of made */

static void bl_char(bl_bridge *b, char c)
{
    /* The sizes of names and numbers leave room for all; the test is here so
     * that no mistake elsewhere can ever write past the buffer. */
    if (b->length < BL_ROOM)
        b->line[b->length++] = c;
}

/* Writes v / 10^decimals. Digits come from the last one up, so they are
 * written backwards and turned round: no second buffer. */
static void bl_digits(bl_bridge *b, uint32_t v, uint8_t decimals)
{
    uint8_t from = b->length, to;
    int8_t left;
    while (decimals > 0 && v % 10u == 0) {
        v /= 10u;
        decimals--;
    }
    left = (int8_t)decimals;
    do {
        bl_char(b, (char)('0' + (char)(v % 10u)));
        v /= 10u;
        if (left-- == 1)
            bl_char(b, '.');
    } while (v != 0 || left >= 0); /* left is 0 behind the point: one digit more */
    for (to = b->length; from + 1 < to; from++) {
        char c = b->line[--to];
        b->line[to] = b->line[from];
        b->line[from] = c;
    }
    b->end = b->length;
}

/* Whether v / 10^decimals lies in the row's range. By quotient and remainder,
 * for limit * 10^decimals need not fit 32 bits; and without signs, for signed
 * division is half a kilobyte more on a processor that has none. */
static bool bl_in_range(const bl_row *row, int32_t v, uint8_t decimals)
{
    uint32_t power = 1, size = v < 0 ? 0u - (uint32_t)v : (uint32_t)v;
    int32_t min = (int32_t)BL_WORD32(&row->min), whole, limit;
    uint8_t flags = BL_BYTE(&row->flags);
    if (decimals > 9)
        return false;
    if (v == 0 && (flags & BL_ROW_OR_ZERO) != 0)
        return true;
    if ((flags & BL_ROW_EVEN) != 0 && (size & 1u) != 0)
        return false;
    while (decimals-- > 0)
        power *= 10u;
    whole = (int32_t)(size / power);
    limit = v < 0 ? -min : (int32_t)BL_WORD32(&row->max); /* no row has a max under 0 */
    return (whole < limit || (whole == limit && size % power == 0)) && (v < 0 || whole >= min);
}

static void bl_value(bl_bridge *b, const bl_row *row, int32_t v, uint8_t decimals)
{
    if (!bl_in_range(row, v, decimals)) {
        b->out_of_range++;
        return;
    }
    if (v < 0)
        bl_char(b, '-');
    bl_digits(b, v < 0 ? 0u - (uint32_t)v : (uint32_t)v, decimals);
}

/* Writes count values by the rows of the line's tag. */
static void bl_values(bl_bridge *b, const int32_t *v, uint8_t count)
{
    const bl_row *row = &bl_rows[BL_BYTE(&bl_first[b->tag])];
    uint8_t in_row = 0;
    for (; count > 0; count--, v++) {
        uint8_t flags = BL_BYTE(&row->flags);
        bl_char(b, ',');
        if (*v != BL_NONE)
            bl_value(b, row, *v, (flags & BL_ROW_WHOLE) != 0 ? 0 : b->decimals[(flags & BL_ROW_SECOND) != 0]);
        if (++in_row == (flags & BL_ROW_COUNT)) {
            in_row = 0;
            row++;
        }
    }
}

/* Writes at most most bytes of a text. */
static void bl_text(bl_bridge *b, const char *text, uint8_t most, bool commas)
{
    bl_char(b, ',');
    if (text == NULL)
        return;
    for (; *text != '\0' && most > 0 && b->length < BL_ROOM; text++, most--) {
        char c = *text;
        bool bad = c < 0x20 || c > 0x7E || c == '*' || (c == ',' && !commas);
        bl_char(b, bad ? '_' : c);
        b->end = b->length;
    }
}

/* Writes a word that lies in flash. */
static void bl_word(bl_bridge *b, const char *rom)
{
    char c;
    while ((c = (char)BL_BYTE(rom++)) != '\0')
        bl_char(b, c);
    b->end = b->length;
}

static void bl_begin(bl_bridge *b, bl_tag tag, uint32_t time_us)
{
    b->tag = (uint8_t)tag;
    b->length = 0;
    bl_word(b, bl_tags[tag]);
    bl_char(b, ',');
    bl_digits(b, b->seq++, 0); /* counted now: a line that is lost has its number */
    bl_char(b, ',');
    bl_digits(b, time_us, 0);
}

/* Closes the line behind its last field and hands it over. */
static bl_result bl_end(bl_bridge *b)
{
    uint8_t n = b->end, shift;
    uint32_t crc = bl_crc32c(b->line, n);
    b->line[n++] = '*';
    for (shift = 0; shift < 8; shift++, crc <<= 4) {
        uint8_t digit = (uint8_t)(crc >> 28);
        b->line[n++] = (char)(digit < 10 ? '0' + digit : 'A' - 10 + digit);
    }
    b->line[n++] = '\n';
    if (b->sink(b->context, (bl_tag)b->tag, b->line, n))
        return BL_SENT;
    b->dropped++;
    return BL_DROPPED;
}

static void bl_decimals(bl_bridge *b, uint8_t first, uint8_t second)
{
    b->decimals[0] = first;
    b->decimals[1] = second;
}

static bl_result bl_line(bl_bridge *b, bl_tag tag, uint32_t time_us, const int32_t *v, uint8_t count)
{
    bl_begin(b, tag, time_us);
    bl_values(b, v, count);
    return bl_end(b);
}

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
    b->length = b->end = 0;
}

bl_result bl_hello(bl_bridge *b, uint32_t time_us, const char *name, uint32_t boot)
{
    bl_begin(b, BL_HELLO, time_us);
    bl_char(b, ',');
    bl_digits(b, BL_PROTOCOL, 0);
    bl_text(b, name, BL_NAME_MAX, false);
    bl_char(b, ',');
    bl_digits(b, boot, 0);
    return bl_end(b);
}

bl_result bl_craft(bl_bridge *b, uint32_t time_us, const bl_craft_info *craft)
{
    bl_begin(b, BL_CRAFT, time_us);
    bl_text(b, craft->name, BL_NAME_MAX, false);
    bl_char(b, ',');
    if ((unsigned)craft->layout < (unsigned)BL_LAYOUT_NONE)
        bl_word(b, bl_layouts[craft->layout]);
    bl_decimals(b, craft->propeller_decimals, craft->mass_decimals);
    bl_values(b, craft->number, BL_CRAFT_COUNT);
    return bl_end(b);
}

bl_result bl_axes(bl_bridge *b, uint32_t time_us, const int32_t value[BL_AXES_COUNT],
                  uint8_t rate_decimals, uint8_t share_decimals)
{
    bl_decimals(b, rate_decimals, share_decimals);
    return bl_line(b, BL_AXES, time_us, value, BL_AXES_COUNT);
}

/* A craft with more motors than the protocol knows cannot be sent: the ones
 * left out would be unwatched and nobody told. */
static bl_result bl_motor_line(bl_bridge *b, bl_tag tag, uint32_t time_us, const int32_t *value,
                               uint8_t motors, uint8_t decimals)
{
    if (motors > BL_MOTORS_MAX)
        return BL_REFUSED;
    bl_decimals(b, decimals, decimals);
    return bl_line(b, tag, time_us, value, motors);
}

bl_result bl_out(bl_bridge *b, uint32_t time_us, const int32_t *value, uint8_t motors, uint8_t decimals)
{
    return bl_motor_line(b, BL_OUT, time_us, value, motors, decimals);
}

bl_result bl_erpm(bl_bridge *b, uint32_t time_us, const int32_t *value, uint8_t motors, uint8_t decimals)
{
    return bl_motor_line(b, BL_ERPM, time_us, value, motors, decimals);
}

bl_result bl_temp(bl_bridge *b, uint32_t time_us, const int32_t *value, uint8_t motors, uint8_t decimals)
{
    return bl_motor_line(b, BL_TEMP, time_us, value, motors, decimals);
}

bl_result bl_accel(bl_bridge *b, uint32_t time_us, const int32_t value[3], uint8_t decimals)
{
    bl_decimals(b, decimals, decimals);
    return bl_line(b, BL_ACCEL, time_us, value, 3);
}

bl_result bl_load(bl_bridge *b, uint32_t time_us, int32_t newtons, uint8_t decimals)
{
    bl_decimals(b, decimals, decimals);
    return bl_line(b, BL_LOAD, time_us, &newtons, 1);
}

static bl_result bl_pair(bl_bridge *b, bl_tag tag, uint32_t time_us, int32_t first, int32_t second)
{
    int32_t v[2];
    v[0] = first;
    v[1] = second;
    return bl_line(b, tag, time_us, v, 2);
}

bl_result bl_pack(bl_bridge *b, uint32_t time_us, int32_t volts, uint8_t volt_decimals,
                  int32_t amps, uint8_t amp_decimals)
{
    bl_decimals(b, volt_decimals, amp_decimals);
    return bl_pair(b, BL_PACK, time_us, volts, amps);
}

bl_result bl_air(bl_bridge *b, uint32_t time_us, int32_t pascal, uint8_t pascal_decimals,
                 int32_t degrees, uint8_t degree_decimals)
{
    bl_decimals(b, pascal_decimals, degree_decimals);
    return bl_pair(b, BL_AIR, time_us, pascal, degrees);
}

bl_result bl_state(bl_bridge *b, uint32_t time_us, const int32_t value[BL_STATE_COUNT], uint8_t stick_decimals)
{
    bl_decimals(b, stick_decimals, stick_decimals);
    return bl_line(b, BL_STATE, time_us, value, BL_STATE_COUNT);
}

bl_result bl_set(bl_bridge *b, uint32_t time_us, const char *name, int32_t value, uint8_t decimals)
{
    if (!bl_is_word(name))
        return BL_REFUSED;
    bl_begin(b, BL_SET, time_us);
    bl_text(b, name, BL_NAME_MAX, false);
    bl_decimals(b, decimals, decimals);
    bl_values(b, &value, 1);
    return bl_end(b);
}

bl_result bl_note(bl_bridge *b, uint32_t time_us, const char *text)
{
    bl_begin(b, BL_NOTE, time_us);
    bl_text(b, text, BL_ROOM, true);
    return bl_end(b);
}

#ifdef BL_CRC_NIBBLE
uint32_t bl_crc32c(const char *bytes, uint8_t n)
{
    /* 0x82F63B78, the reflected polynomial, moved over by each of 16 values */
    static const uint32_t table[16] BL_ROM = {
        0x00000000u, 0x105EC76Fu, 0x20BD8EDEu, 0x30E349B1u, 0x417B1DBCu, 0x5125DAD3u, 0x61C69362u, 0x7198540Du,
        0x82F63B78u, 0x92A8FC17u, 0xA24BB5A6u, 0xB21572C9u, 0xC38D26C4u, 0xD3D3E1ABu, 0xE330A81Au, 0xF36E6F75u};
    uint32_t crc = 0xFFFFFFFFu;
    for (; n > 0; n--) {
        crc ^= (uint8_t)*bytes++;
        crc = (crc >> 4) ^ BL_WORD32(&table[crc & 15u]);
        crc = (crc >> 4) ^ BL_WORD32(&table[crc & 15u]);
    }
    return ~crc;
}
#else
uint32_t bl_crc32c(const char *bytes, uint8_t n)
{
    uint32_t crc = 0xFFFFFFFFu;
    for (; n > 0; n--) {
        uint8_t bit;
        crc ^= (uint8_t)*bytes++;
        for (bit = 0; bit < 8; bit++)
            crc = (crc >> 1) ^ (0x82F63B78u & (0u - (crc & 1u)));
    }
    return ~crc;
}
#endif

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
