/* firmware.c: an example of a bridge, whole but for the hardware (board.h). It
 * reads load cells, infrared thermometers, the telemetry of the motor
 * controllers and what the craft itself says, and sends it as lines. Put in what
 * your bench has; throw out what it has not. */
#define BL_IMPLEMENTATION
#include "firmware.h"

#include <string.h>

/* Your stand. What a count of the converter is in nanonewtons: hang a known mass
 * on it, divide by the counts. Counts at rest may differ by so many. */
#define CELL_NANONEWTONS_PER_COUNT 5000
#define CELL_STEADY_COUNTS 4000

/* Silence of a source after which nothing it said counts any more. */
#define CRAFT_SILENT_US 200000u
#define CONTROLLER_SILENT_US 200000u

#define SETTINGS 3

static const bl_craft_info the_craft = {
    "Marsh Heron", BL_QUAD_X, {MOTORS, 14, 3, 178, 655, 4}, 0, 0};

static const uint8_t thermometer[MOTORS] = {0x5A, 0x5B, 0x5C, 0x5D};

/* Microseconds between lines. Together these take 19 kB/s of the 23 that a port
 * of 230400 baud has; README.md reckons it. Time and again several come due at
 * once, 350 bytes: the ring must hold them, so halve the rates where it is small. */
static const uint32_t period_us[TASK_COUNT] = {
    10000,   /* axes: 100/s */
    20000,   /* out: 50/s */
    50000,   /* state: 20/s, and on every change */
    50000,   /* erpm: 20/s */
    10000,   /* accel: 100/s */
    100000,  /* pack: 10/s */
    500000,  /* temp: 2/s */
    1000000, /* hello */
    10000000 / SETTINGS, /* set: each every 10 s */
    10000000 /* craft */
};

/* Whether a task is due. One that comes late is not made up for: lines in a burst
 * would tell nothing new. */
static bool due(firmware *f, uint8_t task, uint32_t now)
{
    uint32_t late = now - f->next_us[task];
    if (late >= 0x80000000u) /* not yet: the difference is negative modulo 2^32 */
        return false;
    f->next_us[task] = (late < period_us[task] ? f->next_us[task] : now) + period_us[task];
    return true;
}

/* ---- the craft ---- */

static void forget_craft(firmware *f)
{
    uint8_t i;
    f->craft_known = false;
    for (i = 0; i < 10; i++)
        f->craft.axes[i] = BL_NONE;
    for (i = 0; i < 8; i++)
        f->craft.state[i] = BL_NONE;
    for (i = 0; i < MOTORS; i++)
        f->craft.out[i] = BL_NONE;
    for (i = 0; i < 3; i++)
        f->craft.accel_mm_s2[i] = BL_NONE;
}

static void send_state(firmware *f, uint32_t now) { bl_state(&f->bridge, now, f->craft.state, 4); }

static bool same_flags(const int32_t *a, const int32_t *b)
{
    return a[BL_ARMED] == b[BL_ARMED] && a[BL_STOPPED] == b[BL_STOPPED] && a[BL_GROUND] == b[BL_GROUND] &&
           a[BL_CONTROL_OK] == b[BL_CONTROL_OK];
}

/* A source that has fallen silent altogether sends no line, rather than empty
 * ones: the host rings for a stream that stays away, and loudly for these while
 * the craft is armed. The host must not wait for the next line to learn that the
 * craft was armed. */
static void read_craft(firmware *f, uint32_t now)
{
    craft_reading r;
    bool changed;
    if (!board_craft(&r)) {
        if (now - f->craft_us > CRAFT_SILENT_US)
            forget_craft(f);
        return;
    }
    changed = !f->craft_known || !same_flags(r.state, f->craft.state);
    f->craft = r;
    f->craft_us = now;
    f->craft_known = true;
    if (changed)
        send_state(f, now);
}

/* ---- the load cells ---- */

/* At rest: the craft says that it is disarmed, and no rotor says that it turns. */
static bool at_rest(const firmware *f)
{
    uint8_t m;
    for (m = 0; m < MOTORS; m++)
        if (f->controllers[m].heard && f->controllers[m].erpm != 0)
            return false;
    return f->craft.state[BL_ARMED] == 0;
}

static void tare_anew(firmware *f)
{
    f->tared = false;
    f->tare_count = 0;
}

/* Tares on the mean of readings that stay together; anything else starts afresh:
 * a hand on the stand, a gust, a craft that is being hooked. */
static void tare(firmware *f, int32_t raw, uint32_t now)
{
    if (f->tare_count == 0 || !at_rest(f)) {
        f->tare_count = 0;
        f->tare_raw = f->tare_least = f->tare_most = raw;
        f->tare_sum = 0;
    }
    if (raw < f->tare_least)
        f->tare_least = raw;
    if (raw > f->tare_most)
        f->tare_most = raw;
    f->tare_sum += raw - f->tare_raw; /* about the first, so that the sum fits */
    if (f->tare_most - f->tare_least > CELL_STEADY_COUNTS || !at_rest(f)) {
        f->tare_count = 0;
        return;
    }
    if (++f->tare_count < TARE_READINGS)
        return;
    f->tare_raw += f->tare_sum / TARE_READINGS;
    f->tared = true;
    bl_note(&f->bridge, now, "load cells tared at rest");
}

static void send_load(firmware *f, uint32_t now)
{
    int32_t raw = 0;
    uint8_t i;
    for (i = 0; i < CELLS; i++) {
        if (f->cell_raw[i] == BL_NONE) { /* one cell is missing: so is the sum */
            bl_load(&f->bridge, now, BL_NONE, 0);
            return;
        }
        raw += f->cell_raw[i];
    }
    if (!f->tared)
        tare(f, raw, now);
    if (!f->tared)
        bl_load(&f->bridge, now, BL_NONE, 0);
    else /* millinewtons; 64 bits, for 26 bits of counts times the scale need them */
        bl_load(&f->bridge, now, (int32_t)((int64_t)(raw - f->tare_raw) * CELL_NANONEWTONS_PER_COUNT / 1000000), 3);
}

static void read_cells(firmware *f, uint32_t now)
{
    bool all = true;
    uint8_t i;
    for (i = 0; i < CELLS; i++) {
        if (!f->cell_fresh[i] && board_cell_ready(i)) {
            f->cell_raw[i] = cell_read(i);
            f->cell_fresh[i] = true;
        }
        all = all && f->cell_fresh[i];
    }
    if (board_tare_asked())
        tare_anew(f);
    if (all) {
        for (i = 0; i < CELLS; i++)
            f->cell_fresh[i] = false;
        send_load(f, now);
    } /* else no line: one cell that is silent makes the sum unknown, and the host rings */
}

/* ---- the motor controllers and the thermometers ---- */

static void read_controllers(firmware *f, uint32_t now)
{
    uint8_t m;
    int byte;
    for (m = 0; m < MOTORS; m++) {
        controller *c = &f->controllers[m];
        while ((byte = board_controller_byte(m)) >= 0)
            controller_take(c, (uint8_t)byte, now);
        if (c->heard && now - c->heard_us > CONTROLLER_SILENT_US)
            controller_forget(c);
    }
}

/* One motor that is silent has an empty field, so that the others are watched. */
static void send_erpm(firmware *f, uint32_t now)
{
    int32_t v[MOTORS];
    bool any = false;
    uint8_t m;
    for (m = 0; m < MOTORS; m++) {
        v[m] = f->controllers[m].erpm;
        any = any || f->controllers[m].heard;
    }
    if (any)
        bl_erpm(&f->bridge, now, v, MOTORS, 0);
}

/* The pack's voltage is the highest that a controller sees (the others lose some
 * on their leads), its current the sum of all: known only where all speak. */
static void send_pack(firmware *f, uint32_t now)
{
    int32_t v[BL_PACK_COUNT] = {BL_NONE, 0}; /* millivolts, hundredths of an ampere */
    uint8_t m;
    for (m = 0; m < MOTORS; m++) {
        const controller *c = &f->controllers[m];
        if (c->millivolts > v[BL_VOLTS])
            v[BL_VOLTS] = c->millivolts;
        if (v[BL_AMPS] != BL_NONE)
            v[BL_AMPS] = c->heard ? v[BL_AMPS] + c->centiamps : BL_NONE;
    }
    if (v[BL_VOLTS] != BL_NONE)
        bl_pack(&f->bridge, now, v, 3, 2);
}

/* The motor itself by infrared; where no thermometer looks at it nothing: the
 * controller's own temperature is another one. */
static void send_temp(firmware *f, uint32_t now)
{
    int32_t v[MOTORS];
    bool any = false;
    uint8_t m;
    for (m = 0; m < MOTORS; m++) {
        v[m] = ir_read(thermometer[m]);
        any = any || v[m] != BL_NONE;
    }
    if (any)
        bl_temp(&f->bridge, now, v, MOTORS, 2);
}

/* ---- what is repeated ---- */

/* Settings as the craft reports them; here as they are known. On a change send
 * the one that changed at once. */
static void send_setting(firmware *f, uint32_t now)
{
    switch (f->next_setting) {
    case 0:
        bl_set(&f->bridge, now, "idle_ready", 5, 2);
        break;
    case 1:
        bl_set(&f->bridge, now, "idle_least", 6, 2);
        break;
    default:
        bl_set(&f->bridge, now, "limit_oscillation", 1, 1);
        break;
    }
    f->next_setting = (uint8_t)((f->next_setting + 1) % SETTINGS);
}

/* What a person is warned by goes into the ring first. */
static void send_urgent(firmware *f, uint32_t now)
{
    if (due(f, TASK_HELLO, now))
        bl_hello(&f->bridge, now, "bench-1", f->boot);
    if (due(f, TASK_STATE, now) && f->craft_known)
        send_state(f, now);
    if (due(f, TASK_AXES, now) && f->craft_known)
        bl_axes(&f->bridge, now, f->craft.axes, 1, 4);
    if (due(f, TASK_OUT, now) && f->craft_known)
        bl_out(&f->bridge, now, f->craft.out, MOTORS, 4);
    if (due(f, TASK_ERPM, now))
        send_erpm(f, now);
}

static void send_others(firmware *f, uint32_t now)
{
    if (due(f, TASK_CRAFT, now))
        bl_craft(&f->bridge, now, &the_craft);
    if (due(f, TASK_ACCEL, now) && f->craft_known)
        bl_accel(&f->bridge, now, f->craft.accel_mm_s2, 3);
    if (due(f, TASK_PACK, now))
        send_pack(f, now);
    if (due(f, TASK_TEMP, now))
        send_temp(f, now);
    if (due(f, TASK_SET, now))
        send_setting(f, now);
}

void firmware_start(firmware *f)
{
    uint32_t now = board_micros();
    uint8_t i;
    memset(f, 0, sizeof *f);
    br_init(&f->ring, f->ring_bytes, (br_index)(RING_BYTES - 1u));
    bl_init(&f->bridge, br_sink, &f->ring);
    f->boot = board_boot_count();
    forget_craft(f);
    for (i = 0; i < MOTORS; i++)
        controller_forget(&f->controllers[i]);
    for (i = 0; i < TASK_COUNT; i++)
        f->next_us[i] = now + i * 1100u; /* not all at once, time and again */
    f->next_us[TASK_HELLO] = now + period_us[TASK_HELLO];
    bl_hello(&f->bridge, now, "bench-1", f->boot); /* who speaks, before anything else */
}

void firmware_step(firmware *f)
{
    uint32_t now = board_micros();
    read_craft(f, now);
    read_controllers(f, now);
    read_cells(f, now);
    send_urgent(f, now);
    send_others(f, now);
    if (br_used(&f->ring) != 0)
        board_port_start();
}
