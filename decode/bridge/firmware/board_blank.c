/* board_blank.c: the hardware, for you to fill in. As it stands nothing answers,
 * and the bridge says no more than who it is. */
#include "firmware.h"

static firmware the_bridge;

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
