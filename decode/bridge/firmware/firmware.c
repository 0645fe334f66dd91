/* firmware.c: an example of a bridge, whole but for the hardware (board.h). It
 * reads load cells, infrared thermometers, the telemetry of the motor
 * controllers and what the craft itself says, and sends it as lines. Put in what
 * your bench has; throw out what it has not. */
#define BL_IMPLEMENTATION
#include "firmware.h"

#include <string.h>

/* YOUR STAND. The bus addresses of the thermometers, m1 first. */
static const uint8_t thermometer[MOTORS] = {0x5A, 0x5B, 0x5C, 0x5D};

/* Readings at rest may differ by so much. */
#define STEADY_NANONEWTONS 20000000

/* Two conversions of a cell: one that is older makes no sum. */
#define CELL_OLD_US 25000u

/* 1 on a stand with neither craft's link nor controllers, where nobody can say
 * that the rotors stand: then cells are tared as soon as they lie still. A bridge
 * that restarts while rotors turn steadily would tare their lift away. */
#ifndef TARE_UNTOLD
#define TARE_UNTOLD 0
#endif

/* Silence of a source after which nothing it said counts any more: for the
 * controllers three of their frames. */
#define CRAFT_SILENT_US 200000u
#define CONTROLLER_SILENT_US 60000u

/* Values that wait for longer never go out: beside lines that are stamped later,
 * the host would take 50 ms for a step back of the clock, which is a restart. */
#define OLD_US 40000u

/* 2 halves the rates, for a port of half the baud rate; README.md says what then
 * comes later, or not at all. */
#ifndef SLOWER
#define SLOWER 1
#endif

/* A line that the ring did not take is tried again after so long. */
#define RETRY_US 5000u

/* There are values for a line of that task. They go out once; early is how much
 * before its time they may. */
static void offer(firmware *f, uint8_t task, uint32_t now, uint32_t early)
{
    uint16_t bit = (uint16_t)(1u << task);
    if ((f->fresh & bit) != 0)
        return;
    if (reached(now + early, f->next_us[task]))
        f->next_us[task] = now; /* it waits from now on */
    f->fresh |= bit;
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

static bool same_flags(const int32_t *a, const int32_t *b)
{
    return a[BL_ARMED] == b[BL_ARMED] && a[BL_STOPPED] == b[BL_STOPPED] && a[BL_GROUND] == b[BL_GROUND] &&
           a[BL_CONTROL_OK] == b[BL_CONTROL_OK];
}

/* What the craft says goes out once, with the time when it came: sent twice, the
 * host would believe in a pace that is not, and in a link that is dead. A source
 * that has fallen silent altogether sends no line, rather than empty ones: the
 * host rings for a stream that stays away, and loudly for these while the craft
 * is armed. The host must not wait for the next line to learn that the craft was
 * armed. */
static void read_craft(firmware *f, uint32_t now)
{
    static const uint8_t task[] = {TASK_STATE, TASK_AXES, TASK_OUT, TASK_ACCEL};
    craft_reading r;
    uint32_t early;
    uint8_t i;
    if (!board_craft(&r)) {
        if (now - f->craft_us > CRAFT_SILENT_US)
            forget_craft(f);
        return;
    }
    if (!f->craft_known || !same_flags(r.state, f->craft.state))
        f->next_us[TASK_STATE] = now;
    /* The reading nearest to the time, so that the pace stays steady: every
     * second one, every third, and not now this one and now that. */
    early = f->craft_known ? (now - f->craft_us) / 4 : 0;
    f->craft = r;
    f->craft_us = now;
    f->craft_known = f->ever_heard = true;
    for (i = 0; i < sizeof task; i++)
        if (reached(now + early, f->next_us[task[i]]))
            offer(f, task[i], now, early);
}

static bl_result send_state(firmware *f, uint32_t now)
{
    (void)now;
    return bl_state(&f->bridge, f->craft_us, f->craft.state, 4);
}

static bl_result send_axes(firmware *f, uint32_t now)
{
    (void)now;
    return bl_axes(&f->bridge, f->craft_us, f->craft.axes, 1, 4);
}

static bl_result send_out(firmware *f, uint32_t now)
{
    (void)now;
    return bl_out(&f->bridge, f->craft_us, f->craft.out, MOTORS, 4);
}

static bl_result send_accel(firmware *f, uint32_t now)
{
    (void)now;
    return bl_accel(&f->bridge, f->craft_us, f->craft.accel_mm_s2, 3);
}

/* ---- the load cells ---- */

/* At rest: the craft says that it is disarmed, and no rotor says that it turns;
 * where no craft says anything, all rotors say that they stand. */
static bool at_rest(const firmware *f)
{
    uint8_t m, stand = 0;
    for (m = 0; m < MOTORS; m++) {
        if (f->controllers[m].heard && f->controllers[m].erpm != 0)
            return false;
        if (f->controllers[m].heard)
            stand++;
    }
    if (f->craft.state[BL_ARMED] != BL_NONE)
        return f->craft.state[BL_ARMED] == 0;
    return stand == MOTORS || (TARE_UNTOLD != 0 && !f->ever_heard);
}

static void tare_anew(firmware *f)
{
    f->tared = false;
    f->tare_count = 0;
}

/* Tares on the mean of readings that stay together; anything else starts afresh:
 * a hand on the stand, a gust, a craft that is being hooked. */
static void tare(firmware *f, int64_t nn, uint32_t now)
{
    if (!at_rest(f)) {
        f->tare_count = 0;
        return;
    }
    if (f->tare_count == 0) {
        f->tare_least = f->tare_most = nn;
        f->tare_sum = 0;
    }
    if (nn < f->tare_least)
        f->tare_least = nn;
    if (nn > f->tare_most)
        f->tare_most = nn;
    f->tare_sum += nn;
    if (f->tare_most - f->tare_least > STEADY_NANONEWTONS) {
        f->tare_count = 0;
        return;
    }
    if (++f->tare_count < TARE_READINGS)
        return;
    f->tare_nn = f->tare_sum / TARE_READINGS;
    f->tared = f->tare_news = true;
    f->next_us[TASK_TARE] = now;
}

/* A person must hear that there is no lift, and why, before spinning up: load
 * lines are empty until the cells are tared. */
static bl_result send_tare(firmware *f, uint32_t now)
{
    bl_result r;
    if (f->tare_news) {
        r = bl_note(&f->bridge, now, "load cells tared at rest");
        f->tare_news = r == BL_DROPPED;
        return r;
    }
    if (f->tared || !f->cells_known)
        return BL_REFUSED; /* nothing to tell */
    if (at_rest(f))
        return bl_note(&f->bridge, now, "load cells not tared: their readings do not stay together");
    if (f->ever_heard)
        return bl_note(&f->bridge, now, "load cells not tared: not disarmed with all rotors at rest");
    return bl_note(&f->bridge, now, "load cells not tared: nobody says that the rotors stand");
}

/* Each cell has a scale of its own. One that is at its end makes the sum unknown. */
static void sum_cells(firmware *f, uint32_t now)
{
    int64_t nn = 0; /* 64 bits, for 24 bits of counts times the scale need them */
    uint8_t i;
    f->load_us = now;
    f->load_mn = BL_NONE;
    if (reached(now + 3000u, f->next_us[TASK_LOAD])) /* a quarter of a conversion early */
        offer(f, TASK_LOAD, now, 3000u);
    f->cells_known = true;
    for (i = 0; i < CELLS; i++) {
        if (f->cell_raw[i] == BL_NONE)
            return;
        nn += (int64_t)f->cell_raw[i] * cell_nanonewtons[i];
    }
    if (!f->tared)
        tare(f, nn, now);
    if (!f->tared)
        return;
    nn -= f->tare_nn;
    nn = (nn + (nn < 0 ? -500000 : 500000)) / 1000000; /* rounded to millinewtons */
    f->load_mn = nn > -2000000000 && nn < 2000000000 ? (int32_t)nn : BL_WRONG;
}

/* A cell is read whenever it is ready, so that what lies there is new; a sum is
 * made of readings of one time alone. */
static void read_cells(firmware *f, uint32_t now)
{
    bool all = true;
    uint8_t i;
    for (i = 0; i < CELLS; i++) {
        if (board_cell_ready(i)) {
            f->cell_raw[i] = cell_read(i);
            f->cell_us[i] = now;
            f->cell_fresh[i] = true;
        }
        if (now - f->cell_us[i] > CELL_OLD_US)
            f->cell_fresh[i] = false;
        all = all && f->cell_fresh[i];
    }
    /* In flight a tare would take the lift away, and leave it unknown until the
     * craft is disarmed. */
    if (board_tare_asked() && at_rest(f))
        tare_anew(f);
    if (all) {
        for (i = 0; i < CELLS; i++)
            f->cell_fresh[i] = false;
        sum_cells(f, now);
    } /* else no line: one cell that is silent makes the sum unknown, and the host rings */
}

static bl_result send_load(firmware *f, uint32_t now)
{
    (void)now;
    return bl_load(&f->bridge, f->load_us, f->load_mn, 3);
}

/* ---- the motor controllers and the thermometers ---- */

static void read_controllers(firmware *f, uint32_t now)
{
    uint8_t m;
    int byte;
    for (m = 0; m < MOTORS; m++) {
        controller *c = &f->controllers[m];
        while ((byte = board_controller_byte(m)) >= 0)
            if (controller_take(c, (uint8_t)byte, now)) {
                f->heard_us = now;
                f->ever_heard = true;
                offer(f, TASK_ERPM, now, 0);
                offer(f, TASK_PACK, now, 0);
            }
        if (c->heard && now - c->heard_us > CONTROLLER_SILENT_US)
            controller_forget(c);
    }
}

/* One motor that is silent has an empty field, so that the others are watched. */
static bl_result send_erpm(firmware *f, uint32_t now)
{
    int32_t v[MOTORS];
    uint8_t m;
    (void)now;
    for (m = 0; m < MOTORS; m++)
        v[m] = f->controllers[m].erpm;
    return bl_erpm(&f->bridge, f->heard_us, v, MOTORS, 0);
}

/* The pack's voltage is the highest that a controller sees (the others lose some
 * on their leads), its current the sum of all: known only where all speak. */
static bl_result send_pack(firmware *f, uint32_t now)
{
    int32_t v[BL_PACK_COUNT] = {BL_NONE, 0}; /* millivolts, hundredths of an ampere */
    uint8_t m;
    (void)now;
    for (m = 0; m < MOTORS; m++) {
        const controller *c = &f->controllers[m];
        if (c->millivolts > v[BL_VOLTS])
            v[BL_VOLTS] = c->millivolts;
        if (v[BL_AMPS] != BL_NONE)
            v[BL_AMPS] = c->heard ? v[BL_AMPS] + c->centiamps : BL_NONE;
    }
    return bl_pack(&f->bridge, f->heard_us, v, 3, 2);
}

/* The motor itself by infrared; where no thermometer looks at it nothing: the
 * controller's own temperature is another one. */
static bl_result send_temp(firmware *f, uint32_t now)
{
    int32_t v[MOTORS];
    bool any = false;
    uint8_t m;
    for (m = 0; m < MOTORS; m++) {
        v[m] = ir_read(thermometer[m]);
        any = any || v[m] != BL_NONE;
    }
    return any ? bl_temp(&f->bridge, now, v, MOTORS, 2) : BL_REFUSED;
}

/* ---- what is repeated, and what the bridge tells of itself ---- */

static bl_result send_hello(firmware *f, uint32_t now) { return bl_hello(&f->bridge, now, "bench-1", f->boot); }

static bl_result send_craft(firmware *f, uint32_t now)
{
    return the_craft.name != NULL ? bl_craft(&f->bridge, now, &the_craft) : BL_REFUSED;
}

/* One of the settings, in turn. Where the craft reports them, send one that
 * changes at once. */
static bl_result send_setting(firmware *f, uint32_t now)
{
    const setting *s = &settings[f->next_setting];
    bl_result r;
    if (setting_count == 0)
        return BL_REFUSED;
    r = bl_set(&f->bridge, now, s->name, s->value, s->decimals);
    if (r != BL_DROPPED)
        f->next_setting = (uint8_t)((f->next_setting + 1) % setting_count);
    return r;
}

/* The encoder sends what cannot be right as not measured and counts it, and the
 * ring loses lines: nobody would learn that it is a unit that slipped. */
static bl_result send_counts(firmware *f, uint32_t now)
{
    uint16_t wrong = (uint16_t)(f->bridge.out_of_range - f->told_wrong);
    uint16_t lost = (uint16_t)(f->bridge.dropped - f->told_lost);
    char text[96], *p = text;
    bl_result r;
    if (wrong == 0 && lost == 0)
        return BL_REFUSED;
    if (wrong != 0)
        p = put_count(p, wrong, " values could not be right and went out empty: units?");
    if (wrong != 0 && lost != 0)
        *p++ = ' ';
    if (lost != 0)
        put_count(p, lost, " lines found no room");
    r = bl_note(&f->bridge, now, text);
    if (r == BL_SENT) {
        f->told_wrong = (uint16_t)(f->told_wrong + wrong);
        f->told_lost = (uint16_t)(f->told_lost + lost);
    }
    return r;
}

/* ---- which line goes out when ---- */

typedef struct {
    uint32_t period_us; /* between its lines */
    uint8_t tag;
    uint8_t bytes;   /* of a usual line */
    uint8_t reading; /* 1: goes out only with values that are new */
    bl_result (*send)(firmware *f, uint32_t now);
} task_row;

/* In the order of the tasks. Together these take 19 kB/s of the 23 that a port of
 * 230400 baud has; README.md reckons it. */
static const task_row tasks[TASK_COUNT] = {
    {1000000, BL_HELLO, 46, 0, send_hello},
    {50000, BL_STATE, 66, 1, send_state}, /* 20/s, and on every change */
    {10000, BL_AXES, 92, 1, send_axes},   /* 100/s */
    {20000, BL_OUT, 60, 1, send_out},     /* 50/s */
    {50000, BL_ERPM, 56, 1, send_erpm},   /* 20/s */
    {12500, BL_LOAD, 40, 1, send_load},   /* as the cells give it, 80/s at most */
    {10000000, BL_CRAFT, 80, 0, send_craft},
    {100000, BL_PACK, 44, 1, send_pack}, /* 10/s */
    {500000, BL_TEMP, 54, 0, send_temp}, /* 2/s */
    {10000000, BL_SET, 62, 0, send_setting}, /* each; start shares it out */
    {10000000, BL_NOTE, 92, 0, send_tare},
    {5000000, BL_NOTE, 110, 0, send_counts},
    {10000, BL_ACCEL, 58, 1, send_accel} /* 100/s */
};

static uint32_t period(uint8_t task)
{
    uint32_t us = tasks[task].reading != 0 ? tasks[task].period_us * SLOWER : tasks[task].period_us;
    return task == TASK_SET && setting_count > 1 ? us / setting_count : us;
}

static uint32_t taken_us(const firmware *f, uint8_t task)
{
    switch (task) {
    case TASK_LOAD:
        return f->load_us;
    case TASK_ERPM:
    case TASK_PACK:
        return f->heard_us;
    default:
        return f->craft_us;
    }
}

/* Whether a task's line is to be made now. One that finds no room in the ring
 * waits, for half of its period: made it would be lost. After that it is tried
 * all the same, so that the host sees by its number that it is missing. */
static bool due(firmware *f, uint8_t task, uint32_t now)
{
    const task_row *row = &tasks[task];
    uint32_t patience = period(task) / 2;
    if (!reached(now, f->next_us[task]))
        return false;
    if (row->reading != 0) {
        uint16_t bit = (uint16_t)(1u << task);
        if (now - taken_us(f, task) > OLD_US)
            f->fresh &= (uint16_t)~bit;
        if ((f->fresh & bit) == 0) {
            f->next_us[task] = now; /* not half a turn of the clock ago, however long nothing comes */
            return false;
        }
        if (patience > OLD_US / 2)
            patience = OLD_US / 2;
    }
    return br_fits(&f->ring, (bl_tag)row->tag, row->bytes) || now - f->next_us[task] >= patience;
}

/* Makes the line of a task. One that comes late is not made up for: lines in a
 * burst would tell nothing new. One that was lost comes again soon, with what is
 * new by then: a craft's line that waited for its next turn, ten seconds later,
 * would meet the same crowd there. */
static void make(firmware *f, uint8_t task, uint32_t now)
{
    uint32_t late = now - f->next_us[task];
    if (tasks[task].send(f, now) == BL_DROPPED) {
        f->next_us[task] = now + RETRY_US;
        return;
    }
    f->fresh &= (uint16_t)~(1u << task);
    f->next_us[task] = (late < period(task) ? f->next_us[task] : now) + period(task);
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
    for (i = 0; i < CELLS; i++)
        f->cell_us[i] = now;
    for (i = 0; i < TASK_COUNT; i++)
        f->next_us[i] = now + i * 1100u; /* not all at once, time and again */
    f->next_us[TASK_HELLO] = now + period(TASK_HELLO);
    f->next_us[TASK_TARE] = f->next_us[TASK_COUNTS] = now + 3000000u; /* what is amiss by then */
    (void)send_hello(f, now); /* who speaks, before anything else */
}

void firmware_step(firmware *f)
{
    uint32_t now = board_micros();
    uint8_t i;
    read_craft(f, now);
    read_controllers(f, now);
    read_cells(f, now);
    for (i = 0; i < TASK_COUNT; i++) /* what a person is warned by goes into the ring first */
        if (due(f, i, now))
            make(f, i, now);
    if (br_used(&f->ring) != 0)
        board_port_start();
}
