/* firmware.h: the example bridge. One of these, one task. */
#ifndef FIRMWARE_H
#define FIRMWARE_H

#include "../benchring.h"
#include "sensors.h"

#ifdef __AVR__
#define RING_BYTES 256u
#else
#define RING_BYTES 1024u
#endif

#define TARE_READINGS 32

/* What comes at a pace of its own. */
enum {
    TASK_AXES, TASK_OUT, TASK_STATE, TASK_ERPM, TASK_ACCEL, TASK_PACK, TASK_TEMP,
    TASK_HELLO, TASK_SET, TASK_CRAFT, TASK_COUNT
};

typedef struct {
    bl_bridge bridge;
    br_ring ring;
    uint8_t ring_bytes[RING_BYTES];
    uint32_t boot;
    uint32_t next_us[TASK_COUNT];
    uint8_t next_setting;

    craft_reading craft;
    uint32_t craft_us; /* when it last spoke */
    bool craft_known;

    controller controllers[MOTORS];

    int32_t cell_raw[CELLS];
    bool cell_fresh[CELLS];
    bool tared;
    uint8_t tare_count;
    int32_t tare_raw, tare_sum, tare_least, tare_most;
} firmware;

void firmware_start(firmware *f);
void firmware_step(firmware *f); /* call it without end, as often as it goes */

#endif
