/* board_blank.c: the hardware, for you to fill in. As it stands nothing answers,
 * and the bridge says no more than who it is. */
#include "firmware.h"

static firmware the_bridge;

/* YOUR CRAFT, AND YOUR STAND. Empty, nothing of it is sent; what is filled in is
 * believed, and rings or keeps silent by it. */
const bl_craft_info the_craft = {
    NULL, BL_LAYOUT_NONE, {BL_NONE, BL_NONE, BL_NONE, BL_NONE, BL_NONE, BL_NONE}, 0, 0};

const setting settings[] = {{"idle_ready", BL_NONE, 0}};
const uint8_t setting_count = 0; /* YOUR SETTINGS: how many stand above */

const int32_t cell_nanonewtons[CELLS] = {5000, 5000, 5000}; /* YOUR CELLS */

uint32_t board_micros(void)
{
    static uint32_t now; /* a free-running timer, in microseconds */
    return now += 100;
}

uint32_t board_boot_count(void) { return 0; }

void board_port_start(void) {}

/* The port's transmit interrupt calls this; -1: switch the interrupt off. */
int board_port_next(void);
int board_port_next(void) { return br_take(&the_bridge.ring); }

bool board_tare_asked(void) { return false; }

bool board_cell_ready(uint8_t cell)
{
    (void)cell;
    return false;
}

bool board_cell_clock(uint8_t cell)
{
    (void)cell;
    return false;
}

bool board_bus_word(uint8_t address, uint8_t command, uint8_t reply[3])
{
    (void)address;
    (void)command;
    reply[0] = reply[1] = reply[2] = 0;
    return false;
}

int board_controller_byte(uint8_t motor)
{
    (void)motor;
    return -1;
}

bool board_craft(craft_reading *r)
{
    (void)r;
    return false;
}

int main(void)
{
    /* clocks, pins, timer, port: 230400 baud, 8 data bits, no parity, 1 stop bit */
    firmware_start(&the_bridge);
    for (;;)
        firmware_step(&the_bridge);
}
