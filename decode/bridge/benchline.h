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
 *     BL_STREAM       no line buffer: the sink takes a line byte by byte
 *     BL_FLOAT        adds bl_scaled(), which takes a float
 *     BL_CRC_NIBBLE   checksum by a table of 64 bytes: two steps a byte, not eight
 *     BL_LINE_SIZE n  bytes of a line and of its buffer, 168..240. The longest line
 *                     of numbers and names has 165; only a note is cut sooner.
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
 * by the gap that one is missing. With BL_STREAM the sink does the same byte by
 * byte: it forgets what it has of a line that finds no room.
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
#define BL_WRONG (-INT32_MAX) /* a reading that cannot be right: sent as not measured, and counted */

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

/* A sink copies what it keeps, and never waits: a bridge that waits for a port is
 * late with everything. The tag is there so that a port that fills up can lose
 * what matters least (see benchring.h). */
#ifndef BL_STREAM
/* Takes a whole line, its LF included, and returns true; or takes nothing and
 * returns false. */
typedef bool bl_sink(void *context, bl_tag tag, const char *line, uint8_t length);
#else
/* Takes the next byte of a line and returns true; LF is its last, and only then
 * may the port have the line. Or has no room and returns false: then what it has
 * of the line must not go out. No more bytes of that line come. */
typedef bool bl_sink(void *context, bl_tag tag, char c);
#endif

typedef struct {
    bl_sink *sink;
    void *context;         /* the sink's own */
    const char *text;      /* of the line in work, as all below the counters */
    uint32_t number;       /* of a line that has one alone */
    uint16_t seq;          /* number of the next line; wraps by itself */
    uint16_t dropped;      /* lines that the sink did not take, modulo 2^16 */
    uint16_t out_of_range; /* values that could not be right, modulo 2^16 */
    uint8_t tag;
    uint8_t layout;
    uint8_t length;        /* bytes so far */
    uint8_t commas;        /* that go out before the next byte, if one comes */
    uint8_t decimals[2];   /* of the first unit of its numbers, and of the second */
#ifdef BL_STREAM
    uint32_t crc;
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

/* Places in the arrays of bl_pack and bl_air. */
enum { BL_VOLTS, BL_AMPS, BL_PACK_COUNT };
enum { BL_PASCAL, BL_DEGREES, BL_AIR_COUNT };

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
bl_result bl_pack(bl_bridge *b, uint32_t time_us, const int32_t value[BL_PACK_COUNT],
                  uint8_t volt_decimals, uint8_t amp_decimals);

/* Pascal and degrees Celsius. */
bl_result bl_air(bl_bridge *b, uint32_t time_us, const int32_t value[BL_AIR_COUNT],
                 uint8_t pascal_decimals, uint8_t degree_decimals);

/* What the craft does and what the pilot asks. Also at once on every change. */
bl_result bl_state(bl_bridge *b, uint32_t time_us, const int32_t value[BL_STATE_COUNT], uint8_t stick_decimals);

/* A setting as the craft reports it. The name is 1 to 40 of a-z 0-9 _ -, else
 * BL_REFUSED: a changed or cut name could be that of another setting. */
bl_result bl_set(bl_bridge *b, uint32_t time_us, const char *name, int32_t value, uint8_t decimals);

/* A word to the person at the bench; cut to what a line holds. */
bl_result bl_note(bl_bridge *b, uint32_t time_us, const char *text);

#ifdef BL_FLOAT
/* v times 10^decimals, rounded to the nearest whole number (halves away from
 * zero) as far as the 24 bits of a float go; BL_WRONG where v is not finite or the
 * result does not fit. It works on the bits of v, IEEE 754 binary32, so that a
 * processor without floats needs no arithmetic of them. */
int32_t bl_scaled(float v, uint8_t decimals);
#endif

#ifdef __cplusplus
}
#endif
#endif /* BENCHLINE_H */

#if defined(BL_IMPLEMENTATION) && !defined(BL_IMPLEMENTED)
#define BL_IMPLEMENTED

/* For functions that cost more code or stack where the compiler writes them out
 * in their callers. */
#if defined(__GNUC__) && !defined(__clang__)
#define BL_APART __attribute__((noinline, noclone))
#else
#define BL_APART
#endif

/* On an AVR constants lie in RAM unless they are put in flash, and are read by
 * other instructions there. What is BL_SHARED is shorter called than written out
 * three times there; where calls take the stack it is the other way. */
#ifdef __AVR__
#include <avr/pgmspace.h>
#define BL_ROM PROGMEM
#define BL_SHARED BL_APART
#define BL_BYTE(p) pgm_read_byte(p)
#define BL_WORD32(p) pgm_read_dword(p)
#else
#define BL_ROM
#define BL_SHARED
#define BL_BYTE(p) (*(p))
#define BL_WORD32(p) (*(p))
#endif

#define BL_TAIL 10 /* "*", eight digits, LF */
#define BL_ROOM (BL_LINE_SIZE - BL_TAIL)

enum { /* flags of a row */
    BL_ROW_LAST = 15,   /* the last value that has this range, from 0 */
    BL_ROW_WHOLE = 16,  /* no decimals */
    BL_ROW_SECOND = 32, /* takes the second count of decimals: another unit */
    BL_ROW_KIND = 192,  /* 0: the least is zero, or min is how far below; else one of: */
    BL_ROW_ABOVE = 64,  /* the least is above zero */
    BL_ROW_EVEN = 128,  /* so it is, and odd numbers are out of range */
    BL_ROW_OR_ZERO = 192 /* so it is, and zero may stand there too */
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
    {2, BL_LIMIT(6, 1), 1 | BL_ROW_WHOLE | BL_ROW_EVEN}, /* magnet_poles */
    {2, 8, 2 | BL_ROW_WHOLE | BL_ROW_ABOVE}, /* blades */
    {1, BL_LIMIT(5, 3), 3 | BL_ROW_OR_ZERO}, /* propeller_mm */
    {1, BL_LIMIT(1, 6), 4 | BL_ROW_OR_ZERO | BL_ROW_SECOND}, /* mass_g */
    {1, 14, 5 | BL_ROW_WHOLE | BL_ROW_ABOVE}, /* cells */
    {BL_LIMIT(4, 3), BL_LIMIT(4, 3), 2}, /* rate_roll to rate_yaw */
    {BL_LIMIT(2, 4), BL_LIMIT(2, 4), 5}, /* demand_roll to demand_yaw */
    {1, 1, 8 | BL_ROW_SECOND}, /* control_roll to control_yaw */
    {0, 1, 9 | BL_ROW_SECOND}, /* throttle */
    {0, 1, 7}, /* out_1 to out_8 */
    {0, BL_LIMIT(1, 6), 7}, /* erpm_1 to erpm_8 */
    {BL_LIMIT(4, 2), BL_LIMIT(4, 2), 2}, /* force_x to force_z */
    {BL_LIMIT(2, 3), BL_LIMIT(2, 3), 0}, /* load_n */
    {BL_LIMIT(4, 1), BL_LIMIT(25, 1), 7}, /* temp_1 to temp_8 */
    {0, BL_LIMIT(8, 1), 0}, /* volts */
    {BL_LIMIT(5, 1), BL_LIMIT(1, 3), 1 | BL_ROW_SECOND}, /* amps */
    {BL_LIMIT(3, 4), BL_LIMIT(12, 4), 0 | BL_ROW_ABOVE}, /* pascal */
    {BL_LIMIT(1, 2), BL_LIMIT(2, 2), 1 | BL_ROW_SECOND}, /* air_c */
    {0, 1, 2 | BL_ROW_WHOLE}, /* armed to ground */
    {0, 1, 3}, /* stick_throttle */
    {1, 1, 6}, /* stick_roll to stick_yaw */
    {0, 1, 7 | BL_ROW_WHOLE}, /* control_ok */
    {BL_ANY, BL_ANY, 0}, /* value */
};
/* end of made */

/* 10^9 to 1. Digits come by subtracting these: a processor that cannot divide
 * needs no division, and the first digit comes first. */
static const uint32_t bl_powers[10] BL_ROM = {
    1000000000u, 100000000u, 10000000u, 1000000u, 100000u, 10000u, 1000u, 100u, 10u, 1u};

/* Takes a byte into the checksum (CRC-32C, Castagnoli, RFC 3720). */
static inline uint32_t bl_crc(uint32_t crc, uint8_t byte)
{
#ifdef BL_CRC_NIBBLE
    /* 0x82F63B78, the reflected polynomial, moved over by each of 16 values */
    static const uint32_t table[16] BL_ROM = {
        0x00000000u, 0x105EC76Fu, 0x20BD8EDEu, 0x30E349B1u, 0x417B1DBCu, 0x5125DAD3u, 0x61C69362u, 0x7198540Du,
        0x82F63B78u, 0x92A8FC17u, 0xA24BB5A6u, 0xB21572C9u, 0xC38D26C4u, 0xD3D3E1ABu, 0xE330A81Au, 0xF36E6F75u};
    crc ^= byte;
    for (byte = 2; byte > 0; byte--)
        crc = (crc >> 4) ^ BL_WORD32(&table[crc & 15u]);
#else
    crc ^= byte;
    for (byte = 8; byte > 0; byte--) {
        uint8_t odd = (uint8_t)crc & 1u;
        crc >>= 1;
        if (odd != 0)
            crc ^= 0x82F63B78u;
    }
#endif
    return crc;
}

/* Writes a byte, and before it the commas that wait: those at the end of a line
 * are never written. */
static void bl_char(bl_bridge *b, char c)
{
    uint8_t waiting;
    do {
        char next = c;
        waiting = b->commas;
        if (waiting != 0) {
            b->commas--;
            next = ',';
        }
#ifdef BL_STREAM
        b->length++;
        b->crc = bl_crc(b->crc, (uint8_t)next);
        if (!b->lost && !b->sink(b->context, (bl_tag)b->tag, next))
            b->lost = true;
#else
        /* The sizes of names and numbers leave room for all; the test is here so
         * that no mistake elsewhere can ever write past the buffer. */
        if (b->length < BL_LINE_SIZE)
            b->line[b->length++] = next;
#endif
    } while (waiting != 0);
}

/* Writes v / 10^decimals as a field. */
static void bl_digits(bl_bridge *b, uint32_t v, uint8_t decimals)
{
    const uint32_t *p = bl_powers;
    int8_t left = (int8_t)(9 - decimals); /* places before the one of the units */
    bool begun = false;                   /* no zeros before the first digit */
    for (;; left--) {
        uint32_t power = BL_WORD32(p++);
        char c = '0';
        for (; v >= power; v -= power)
            c++;
        if (c != '0' || left <= 0)
            begun = true;
        if (begun)
            bl_char(b, c);
        if (left <= 0) {
            if (v == 0) /* no zeros behind the last */
                break;
            if (left == 0)
                bl_char(b, '.');
        }
    }
    b->commas++;
}

/* What size is beside limit * 10^decimals: -1 under it, 0 the same, 1 over it. */
static BL_APART int8_t bl_compare(uint32_t size, uint8_t limit, uint8_t decimals)
{
    uint8_t m = limit & 31u, zeros = (uint8_t)(decimals + (limit >> 5));
    uint32_t power = 0x80000000u; /* that no size reaches */
    if (zeros <= 9 && limit != BL_ANY)
        power = BL_WORD32(&bl_powers[9 - zeros]);
    for (; m > 0; m--) {
        if (size < power)
            return -1;
        size -= power;
    }
    return size != 0;
}

/* How many decimals a value has by the row of its field: over 9 where it must
 * not go out. */
static BL_APART uint8_t bl_check(bl_bridge *b, const bl_row *row, int32_t v)
{
    uint8_t flags = BL_BYTE(&row->flags), kind = flags & BL_ROW_KIND;
    uint8_t least = BL_BYTE(&row->min), most = least, decimals = 0;
    if (v == BL_NONE)
        return 255;
    if (v == BL_WRONG)
        goto wrong;
    if (v >= 0)
        most = BL_BYTE(&row->max);
    else if (kind != 0)
        most = 0;
    if (kind == 0 || (kind == BL_ROW_OR_ZERO && v == 0))
        least = 0;
    if (v < 0)
        v = -v;
    if ((flags & BL_ROW_WHOLE) == 0)
        decimals = b->decimals[(flags & BL_ROW_SECOND) != 0];
    if (decimals <= 9 && (kind != BL_ROW_EVEN || (v & 1) == 0) &&
        bl_compare((uint32_t)v, most, decimals) <= 0 && bl_compare((uint32_t)v, least, decimals) >= 0)
        return decimals;
wrong:
    b->out_of_range++;
    return 255;
}

/* Writes count values by the rows of the line's tag. */
static void bl_values(bl_bridge *b, const int32_t *value, uint8_t count)
{
    const bl_row *row = &bl_rows[BL_BYTE(&bl_first[b->tag])];
    uint8_t i;
    for (i = 0; i < count; i++) {
        int32_t v = *value++;
        uint8_t decimals = bl_check(b, row, v);
        if (i == (BL_BYTE(&row->flags) & BL_ROW_LAST))
            row++;
        if (decimals > 9) {
            b->commas++;
            continue;
        }
        if (v < 0) {
            bl_char(b, '-');
            v = -v;
        }
        bl_digits(b, (uint32_t)v, decimals);
    }
}

/* Writes the line's text as a field. */
static void bl_text(bl_bridge *b)
{
    const char *text = b->text;
    uint8_t most = b->tag == BL_NOTE ? BL_ROOM : BL_NAME_MAX;
    if (text != NULL)
        for (; *text != '\0' && most > 0 && b->length < BL_ROOM; text++, most--) {
            char c = *text;
            if (c < 0x20 || c > 0x7E || c == '*' || (c == ',' && b->tag != BL_NOTE))
                c = '_';
            bl_char(b, c);
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

/* Closes the line behind its last field and hands it over. */
static bl_result bl_end(bl_bridge *b)
{
    uint8_t n;
#ifdef BL_STREAM
    uint32_t crc = b->crc;
#else
    uint32_t crc = 0xFFFFFFFFu;
    for (n = 0; n < b->length; n++)
        crc = bl_crc(crc, (uint8_t)b->line[n]);
#endif
    b->commas = 0;
    bl_char(b, '*');
    for (n = 8; n > 0; n--, crc <<= 4) {
        uint8_t digit = (uint8_t)((uint8_t)~(crc >> 24) >> 4); /* CRC-32C ends turned over */
        bl_char(b, (char)(digit + (digit < 10 ? '0' : 'A' - 10)));
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

/* Makes a line and hands it over: its values, and of the bridge its text, layout
 * and decimals, which the callers put there. What is count and tag in one. */
static bl_result bl_line(bl_bridge *b, uint32_t time_us, const int32_t *value, uint8_t what)
{
    b->tag = what & 15u;
    b->length = b->commas = 0;
#ifdef BL_STREAM
    b->crc = 0xFFFFFFFFu;
    b->lost = false;
#endif
    bl_word(b, b->tag);
    bl_digits(b, b->seq++, 0); /* counted now: a line that is lost has its number */
    bl_digits(b, time_us, 0);
    if (b->tag == BL_HELLO)
        bl_digits(b, BL_PROTOCOL, 0);
    if (b->tag <= BL_CRAFT || b->tag >= BL_SET)
        bl_text(b);
    if (b->tag == BL_HELLO)
        bl_digits(b, b->number, 0);
    if (b->tag == BL_CRAFT)
        bl_word(b, (uint8_t)(BL_NOTE + 1 + b->layout));
    bl_values(b, value, what >> 4);
    return bl_end(b);
}
#define BL_WHAT(tag, count) (uint8_t)((tag) | (count) << 4)

/* The bridge's number as an array of one. */
static inline const int32_t *bl_alone(const bl_bridge *b)
{
    return (const int32_t *)&b->number; /* C lets a signed type read the unsigned one */
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
}

bl_result bl_hello(bl_bridge *b, uint32_t time_us, const char *name, uint32_t boot)
{
    b->text = name;
    b->number = boot;
    return bl_line(b, time_us, bl_alone(b), BL_WHAT(BL_HELLO, 0));
}

bl_result bl_craft(bl_bridge *b, uint32_t time_us, const bl_craft_info *craft)
{
    b->text = craft->name;
    b->layout = (uint8_t)craft->layout;
    if ((unsigned)craft->layout > (unsigned)BL_LAYOUT_NONE)
        b->layout = BL_LAYOUT_NONE;
    b->decimals[0] = craft->propeller_decimals;
    b->decimals[1] = craft->mass_decimals;
    return bl_line(b, time_us, craft->number, BL_WHAT(BL_CRAFT, BL_CRAFT_COUNT));
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
static BL_SHARED bl_result bl_motor_line(bl_bridge *b, uint32_t time_us, const int32_t *value, uint8_t motors,
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
    b->number = (uint32_t)newtons;
    return bl_line(b, time_us, bl_alone(b), BL_WHAT(BL_LOAD, 1));
}

bl_result bl_pack(bl_bridge *b, uint32_t time_us, const int32_t value[BL_PACK_COUNT],
                  uint8_t volt_decimals, uint8_t amp_decimals)
{
    b->decimals[0] = volt_decimals;
    b->decimals[1] = amp_decimals;
    return bl_line(b, time_us, value, BL_WHAT(BL_PACK, BL_PACK_COUNT));
}

bl_result bl_air(bl_bridge *b, uint32_t time_us, const int32_t value[BL_AIR_COUNT],
                 uint8_t pascal_decimals, uint8_t degree_decimals)
{
    b->decimals[0] = pascal_decimals;
    b->decimals[1] = degree_decimals;
    return bl_line(b, time_us, value, BL_WHAT(BL_AIR, BL_AIR_COUNT));
}

bl_result bl_state(bl_bridge *b, uint32_t time_us, const int32_t value[BL_STATE_COUNT], uint8_t stick_decimals)
{
    b->decimals[0] = stick_decimals;
    return bl_line(b, time_us, value, BL_WHAT(BL_STATE, BL_STATE_COUNT));
}

bl_result bl_set(bl_bridge *b, uint32_t time_us, const char *name, int32_t value, uint8_t decimals)
{
    b->text = name;
    b->number = (uint32_t)value;
    b->decimals[0] = decimals;
    if (!bl_is_word(name))
        return BL_REFUSED;
    return bl_line(b, time_us, bl_alone(b), BL_WHAT(BL_SET, 1));
}

bl_result bl_note(bl_bridge *b, uint32_t time_us, const char *text)
{
    b->text = text;
    return bl_line(b, time_us, NULL, BL_WHAT(BL_NOTE, 0));
}

#ifdef BL_FLOAT
int32_t bl_scaled(float v, uint8_t decimals)
{
    union { float f; uint32_t bits; } u;
    uint32_t m;
    int16_t e;
    u.f = v;
    m = (u.bits & 0x7FFFFFu) | 0x800000u; /* v is m * 2^e */
    e = (int16_t)((int16_t)((u.bits >> 23) & 255u) - 150);
    if (decimals > 9 || e == 255 - 150) /* not finite */
        return BL_WRONG;
    if (e == -150) /* too small for any count of decimals */
        return 0;
    for (; decimals > 0; decimals--, e++) { /* times 5, times 2 */
        for (; m >= 0x20000000u; e++) /* 27 bits and more stay */
            m = (m + 1u) >> 1;
        m *= 5u;
    }
    for (; e < -1 && m != 0; e++)
        m >>= 1;
    if (e < 0)
        m = (m + 1u) >> 1;
    for (; e > 0 && m <= INT32_MAX; e--)
        m <<= 1;
    if (m > INT32_MAX)
        return BL_WRONG;
    return u.bits >> 31 != 0 ? -(int32_t)m : (int32_t)m;
}
#endif
#endif /* BL_IMPLEMENTATION */
