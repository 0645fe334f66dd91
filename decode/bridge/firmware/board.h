/* board.h: all that the example asks of the hardware. Fill these in for your
 * board; board_blank.c has them empty, host.c has them simulated. None of them
 * may wait for a sensor: a bridge that waits is late with everything. The longest
 * here is a read on the two-wire bus, half a millisecond at 100 kHz. */
#ifndef BOARD_H
#define BOARD_H

#include "../benchline.h"

#define MOTORS 4
#define CELLS 3 /* load cells under the stand, one converter each */

/* ---- what you must fill in, in numbers ---- */

/* Your craft. No name (NULL): no line of it goes out, and a craft file on the
 * host says what it is. Never leave another craft's figures in: near-lift weighs
 * against this mass. */
extern const bl_craft_info the_craft;

/* Settings of your craft that are known here; better, ask it for them. settings
 * with a count of 0: none goes out, and what needs them is not watched. */
typedef struct {
    const char *name;
    int32_t value;
    uint8_t decimals;
} setting;

extern const setting settings[];
extern const uint8_t setting_count;

/* What a count of each cell's converter is in nanonewtons, lift up being +: hang
 * a known mass on the cell, divide by the counts. Cells differ by some per cent.
 * One whose signal wires are swapped has a negative one. */
extern const int32_t cell_nanonewtons[CELLS];

/* ---- the hardware ---- */

/* Microseconds since the start, modulo 2^32. */
uint32_t board_micros(void);

/* How often this board has started: read a count from memory that outlives the
 * power (flash, EEPROM, battery-backed RAM), add one, store it, return it. */
uint32_t board_boot_count(void);

/* There are bytes in the ring: switch the port's transmit interrupt on. The
 * interrupt takes one with br_take() and switches itself off at -1. */
void board_port_start(void);

/* Somebody asks to tare anew: a button, debounced. Obeyed at rest alone. */
bool board_tare_asked(void);

/* The converter of a load cell: whether a reading waits (most pull their data
 * line low), and one pulse of its clock, with the bit that the data line shows
 * after the rising edge. Mind the longest pulse that it takes before it falls
 * asleep: block interrupts for it where they could stretch one. */
bool board_cell_ready(uint8_t cell);
bool board_cell_clock(uint8_t cell);

/* A read of one word from the two-wire bus: start, address and write, command,
 * start again, address and read, two bytes (low first) and the check byte.
 * False where nobody answers. */
bool board_bus_word(uint8_t address, uint8_t command, uint8_t reply[3]);

/* The next byte of a motor controller's telemetry, -1 where none waits. */
int board_controller_byte(uint8_t motor);

/* What the craft itself says, over whatever link it has: its measured rates and
 * demands in tenths of deg/s, controller outputs, throttle, sticks and motor
 * outputs in ten-thousandths, flags 0 or 1. BL_NONE for what it does not say.
 * Turn the signs to those of ../../PROTOCOL.md. False: nothing new. */
typedef struct {
    int32_t axes[10];      /* as BL_RATE_ROLL to BL_THROTTLE */
    int32_t state[8];      /* as BL_ARMED to BL_CONTROL_OK */
    int32_t out[MOTORS];
    int32_t accel_mm_s2[3];
} craft_reading;

bool board_craft(craft_reading *r);

#endif
