/* host.c: the example on an ordinary computer, with its hardware simulated: a
 * craft of four motors on a stand is armed, spun up to a third, and disarmed.
 * Time runs as fast as the machine can.
 *
 *     cc -std=c99 -O2 firmware.c host.c -o bench && ./bench | tetherbell check /dev/stdin
 *     ./bench SECONDS FAULT
 *
 * FAULT from the tenth second on: controller (m2's telemetry falls silent), bus
 * (nobody answers on the two-wire bus), check (its check bytes are wrong), cell
 * (a load cell's converter falls silent), pause (two do for 3 s), range (one is
 * at its end), craft (the craft's link falls silent), button (somebody asks to
 * tare in flight), unit (rates that cannot be right), port (the port is ten
 * times too slow), none. From the start: slow (the craft's link has 20 readings
 * a second), stand (there is no craft's link), cells (nor controllers), blows
 * (the stand is not at rest: something knocks at it). */
#include "firmware.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define STEP_US 100u
#ifndef BAUD
#define BAUD 230400u
#endif

static firmware the_bridge;

/* The craft and the stand that are simulated here: NOT YOURS. */
const bl_craft_info the_craft = {
    "Marsh Heron", BL_QUAD_X, {MOTORS, 14, 3, 178, 655, 4}, 0, 0};

const setting settings[] = {{"idle_ready", 5, 2}, {"idle_least", 6, 2}, {"limit_oscillation", 1, 1}};
const uint8_t setting_count = 3;

const int32_t cell_nanonewtons[CELLS] = {5000, 4900, -5200}; /* the last one's wires are swapped */
static uint64_t now_us = 4294967296u - 12345678u; /* the clock wraps on the way */
static uint64_t began_us;
static const char *fault = "";

static struct {
    double out[MOTORS], speed[MOTORS]; /* shares of full */
    double stick, volts, amps, lift_n, heat[MOTORS];
    bool armed;
    uint64_t craft_next_us;
    uint64_t cell_next_us[CELLS];
    uint32_t cell_bits[CELLS];
    uint8_t cell_pulse[CELLS];
    uint64_t frame_next_us[MOTORS];
    uint8_t frame[MOTORS][CONTROLLER_BYTES], frame_left[MOTORS];
} sim;

static double seconds(void) { return (double)(now_us - began_us) / 1e6; }
static bool always(const char *what) { return strcmp(fault, what) == 0; }
static bool faulty(const char *what) { return seconds() >= 10 && strcmp(fault, what) == 0; }

/* A share of -1..1, near its middle more often; the same every time. */
static double tremble(void)
{
    static uint32_t x = 2463534242u;
    double sum = 0;
    int i;
    for (i = 0; i < 3; i++) {
        x ^= x << 13;
        x ^= x >> 17;
        x ^= x << 5;
        sum += (double)x / 2147483648.0 - 1.0;
    }
    return sum / 3;
}

/* ---- what happens on the stand ---- */

static double stick_at(double t)
{
    if (t < 6 || t > 18)
        return 0;
    if (t < 12)
        return 0.30 * (t - 6) / 6;
    return t < 16 ? 0.30 : 0.30 * (18 - t) / 2;
}

static void simulate(void)
{
    double t = seconds(), dt = STEP_US / 1e6, cubes = 0;
    int m;
    sim.armed = t >= 4 && t < 19;
    sim.stick = stick_at(t);
    sim.lift_n = 0;
    for (m = 0; m < MOTORS; m++) {
        double w = sim.speed[m];
        sim.out[m] = sim.armed ? 0.05 + sim.stick : 0;
        w += (sim.out[m] - w) * dt / (sim.out[m] > 0 ? 0.06 : 0.3);
        sim.speed[m] = w;
        sim.lift_n += 8.0 * w * w;
        cubes += w * w * w;
        sim.heat[m] += (200 * w * w * w - sim.heat[m]) * dt / 60;
    }
    sim.amps = 0.4 + 15 * cubes;
    sim.volts = 16.4 - 0.02 * sim.amps;
}

/* ---- the hardware that board.h asks for ---- */

uint32_t board_micros(void) { return (uint32_t)now_us; }
uint32_t board_boot_count(void) { return 42; }
void board_port_start(void) {}
bool board_tare_asked(void) { return faulty("button") && seconds() < 10.1; }

static int32_t scaled(double v, double scale) { return (int32_t)(v * scale + (v < 0 ? -0.5 : 0.5)); }

bool board_craft(craft_reading *r)
{
    double shake = 0.2 + 4 * sim.speed[0];
    int i;
    if (now_us < sim.craft_next_us || faulty("craft") || always("stand") || always("cells"))
        return false;
    if (always("slow")) /* and not to the microsecond */
        sim.craft_next_us = began_us + (now_us - began_us) / 50000 * 50000 + 51000 + (uint64_t)(int64_t)scaled(tremble(), 1000);
    else
        sim.craft_next_us = now_us + 5000;
    memset(r, 0, sizeof *r);
    for (i = 0; i < 3; i++) {
        r->axes[BL_RATE_ROLL + i] = scaled(shake * tremble(), 10) + (faulty("unit") ? 2000000 : 0);
        r->axes[BL_CONTROL_ROLL + i] = sim.armed ? scaled(0.002 * shake * tremble(), 1e4) : 0;
        r->accel_mm_s2[i] = scaled((i == 2 ? -9.81 : 0) + (0.05 + 2 * sim.speed[0]) * tremble(), 1000);
    }
    r->axes[BL_THROTTLE] = scaled(sim.armed ? 0.05 + sim.stick : 0, 1e4);
    r->state[BL_ARMED] = sim.armed;
    r->state[BL_GROUND] = 1;
    r->state[BL_STICK_THROTTLE] = scaled(sim.stick, 1e4);
    r->state[BL_CONTROL_OK] = 1;
    for (i = 0; i < MOTORS; i++)
        r->out[i] = sim.armed ? scaled(sim.out[i] + 0.002 * tremble(), 1e4) : 0;
    return true;
}

static bool pauses(uint8_t cell)
{
    return (cell == 1 && seconds() < 13.005) || (cell == 2 && seconds() > 10.5 && seconds() < 13.305);
}

/* Each converter has its own pace, near 80/s, and its own zero. */
bool board_cell_ready(uint8_t cell)
{
    double force_n, counts;
    if (now_us < sim.cell_next_us[cell] || (cell == 1 && faulty("cell")) || (faulty("pause") && pauses(cell)))
        return false;
    sim.cell_next_us[cell] = now_us + 12400 + 100u * cell;
    sim.cell_pulse[cell] = 0;
    force_n = sim.lift_n / CELLS + (always("blows") ? 0.5 : 0.001) * tremble();
    counts = force_n * 1e9 / cell_nanonewtons[cell] + 120000.0 * (cell - 1);
    sim.cell_bits[cell] = (uint32_t)(int32_t)counts & 0xFFFFFFu;
    if (cell == 2 && faulty("range"))
        sim.cell_bits[cell] = 0x7FFFFFu;
    return true;
}

bool board_cell_clock(uint8_t cell)
{
    uint8_t pulse = sim.cell_pulse[cell]++;
    return pulse < 24 && ((sim.cell_bits[cell] >> (23 - pulse)) & 1u) != 0;
}

bool board_bus_word(uint8_t address, uint8_t command, uint8_t reply[3])
{
    int m = address - 0x5A;
    uint16_t word;
    uint8_t crc = 0;
    if (m < 0 || m >= MOTORS || command != IR_COMMAND || faulty("bus"))
        return false;
    word = (uint16_t)scaled(273.15 + 14.5 + 0.1 * m + sim.heat[m] + 0.05 * tremble(), IR_COUNTS_PER_KELVIN);
    reply[0] = (uint8_t)word;
    reply[1] = (uint8_t)(word >> 8);
    crc = pec(crc, (uint8_t)(address << 1));
    crc = pec(crc, command);
    crc = pec(crc, (uint8_t)((address << 1) | 1));
    reply[2] = pec(pec(crc, reply[0]), reply[1]);
    if (faulty("check"))
        reply[2] ^= 0x10;
    return true;
}

static void put_word(uint8_t *p, int32_t v)
{
    p[0] = (uint8_t)((uint32_t)v & 255u);
    p[1] = (uint8_t)(((uint32_t)v >> 8) & 255u);
}

/* A frame every 20 ms; one byte in some hundreds is noise. */
static void make_frame(uint8_t motor)
{
    uint8_t *f = sim.frame[motor], crc = 0;
    int i;
    double turning = sim.speed[motor] > 0.002 ? sim.speed[motor] * (1 + 0.003 * tremble()) : 0;
    f[0] = CONTROLLER_START;
    put_word(f + 1, scaled(25 + sim.heat[motor] + 0.1 * tremble(), 10));
    put_word(f + 3, scaled(sim.volts + 0.01 * tremble(), 1000));
    put_word(f + 5, scaled(sim.amps / MOTORS + 0.03 * tremble(), 100));
    put_word(f + 7, scaled(turning * 154000, 0.1));
    for (i = 0; i < CONTROLLER_BYTES - 1; i++)
        crc = pec(crc, f[i]);
    f[CONTROLLER_BYTES - 1] = crc;
    if (tremble() > 0.9)
        f[3] ^= 0x41;
    sim.frame_left[motor] = CONTROLLER_BYTES;
}

int board_controller_byte(uint8_t motor)
{
    if ((motor == 1 && faulty("controller")) || always("cells"))
        return -1;
    if (sim.frame_left[motor] == 0) {
        if (now_us < sim.frame_next_us[motor])
            return -1;
        sim.frame_next_us[motor] = now_us + 20000;
        make_frame(motor);
    }
    return sim.frame[motor][CONTROLLER_BYTES - sim.frame_left[motor]--];
}

/* The port takes a byte every ten bits. */
static void transmit(uint64_t *free_us_tenths)
{
    uint64_t tenths = 10u * 10u * 1000000u / BAUD * (faulty("port") ? 10u : 1u);
    int c;
    while (*free_us_tenths <= now_us * 10u && (c = br_take(&the_bridge.ring)) >= 0) {
        putchar(c);
        if (*free_us_tenths + 10000u < now_us * 10u)
            *free_us_tenths = now_us * 10u; /* it stood idle */
        *free_us_tenths += tenths;
    }
}

static const char *const faults[] = {"none", "controller", "bus", "check", "cell", "pause", "range", "craft", "button",
                                     "unit", "port", "slow", "stand", "cells", "blows"};

/* A fault that is misspelt would be no fault, and whoever tries the monitor by it
 * would believe in silence. */
static bool known(const char *what)
{
    size_t i;
    for (i = 0; i < sizeof faults / sizeof *faults; i++)
        if (strcmp(what, faults[i]) == 0)
            return true;
    fprintf(stderr, "bench: no fault is called \"%s\"; there are", what);
    for (i = 0; i < sizeof faults / sizeof *faults; i++)
        fprintf(stderr, " %s", faults[i]);
    fprintf(stderr, "\n");
    return false;
}

int main(int argc, char **argv)
{
    char *end = NULL;
    double length = argc > 1 ? strtod(argv[1], &end) : 24;
    uint64_t port_free = now_us * 10u;
    if ((end != NULL && (end == argv[1] || *end != '\0')) || !(length > 0 && length <= 86400) || argc > 3) {
        fprintf(stderr, "usage: bench [SECONDS [FAULT]]\n");
        return 2;
    }
    if (argc > 2 && !known(argv[2]))
        return 2;
    if (argc > 2)
        fault = argv[2];
    began_us = now_us;
    firmware_start(&the_bridge);
    while (seconds() < length) {
        simulate();
        firmware_step(&the_bridge);
        transmit(&port_free);
        now_us += STEP_US;
    }
    while (br_used(&the_bridge.ring) != 0) { /* no torn line at the end */
        now_us += STEP_US;
        transmit(&port_free);
    }
    return fflush(stdout) == 0 ? 0 : 1;
}
