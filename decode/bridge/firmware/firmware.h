/* firmware.h: the example bridge. One of these, one task. */
#ifndef FIRMWARE_H
#define FIRMWARE_H

#include "../benchring.h"
#include "sensors.h"

/* README.md has what rings of these sizes lose. */
#ifndef RING_BYTES
#ifdef __AVR__
#define RING_BYTES 256u
#else
#define RING_BYTES 1024u
#endif
#endif

#define TARE_READINGS 32

/* The lines, the most urgent first. */
enum {
    TASK_HELLO, TASK_STATE, TASK_AXES, TASK_OUT, TASK_ERPM, TASK_LOAD, /* may fill the ring */
    TASK_CRAFT, TASK_PACK, TASK_TEMP, TASK_SET, TASK_TARE, TASK_COUNTS, TASK_ACCEL, TASK_COUNT
};

typedef struct {
    bl_bridge bridge;
    br_ring ring;
    uint8_t ring_bytes[RING_BYTES];
    uint32_t boot;
    uint32_t next_us[TASK_COUNT]; /* when it is due, or since when it waits for room */
    uint16_t fresh;               /* a bit for each task whose values have not gone out yet */
    uint8_t next_setting;
    uint16_t told_wrong, told_lost; /* the bridge's counts when a note last told of them */

    craft_reading craft;
    uint32_t craft_us; /* when it last spoke */
    bool craft_known;

    controller controllers[MOTORS];
    uint32_t heard_us; /* when the last of them spoke */
    bool ever_heard;   /* the craft or a controller, since the start */

    int32_t cell_raw[CELLS];
    uint32_t cell_us[CELLS];
    bool cell_fresh[CELLS];
    int32_t load_mn; /* BL_NONE: not known */
    uint32_t load_us;
    bool cells_known; /* a sum of all has come */
    bool tared, tare_news;
    uint8_t tare_count;
    int64_t tare_nn, tare_sum, tare_least, tare_most;
} firmware;

/* Whether a moment has come, modulo 2^32. */
static inline bool reached(uint32_t now, uint32_t then)
{
    return now - then < 0x80000000u; /* the difference is negative modulo 2^32 until then */
}

/* Writes count, what it is of, and the end; returns where that is. */
static inline char *put_count(char *p, uint16_t count, const char *of)
{
    char digits[5];
    uint8_t n = 0;
    do
        digits[n++] = (char)('0' + count % 10);
    while ((count /= 10) != 0);
    while (n > 0)
        *p++ = digits[--n];
    while (*of != '\0')
        *p++ = *of++;
    *p = '\0';
    return p;
}

void firmware_start(firmware *f);
void firmware_step(firmware *f); /* call it without end, as often as it goes */

#endif
