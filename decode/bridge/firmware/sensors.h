/* sensors.h: three kinds of sensor that a bench has, as numbers. What a data
 * sheet must be asked for says so. */
#ifndef SENSORS_H
#define SENSORS_H

#include "../benchline.h"
#include "board.h"

/* ---- bridge amplifier and converter of a load cell, 24 bits clocked out ---- */

/* Pulses behind the 24 bits, which choose channel and gain on many: as your
 * converter's data sheet says. */
#define CELL_PULSES_AFTER 1

/* Reads one conversion, highest bit first, two's complement. BL_NONE where the
 * converter is at the end of its range: then the force is not known, only that
 * it is large, and a wrong figure would be believed. */
static inline int32_t cell_read(uint8_t cell)
{
    uint32_t bits = 0;
    uint8_t i;
    for (i = 0; i < 24; i++)
        bits = (bits << 1) | (board_cell_clock(cell) ? 1u : 0u);
    for (i = 0; i < CELL_PULSES_AFTER; i++)
        (void)board_cell_clock(cell);
    if (bits == 0x7FFFFFu || bits == 0x800000u)
        return BL_NONE;
    return (int32_t)(bits ^ 0x800000u) - 0x800000; /* the sign, with no shift of a negative number */
}

/* ---- infrared thermometer on a two-wire bus, words with a check byte ---- */

/* The check byte of the System Management Bus (PEC): CRC-8, polynomial
 * x^8 + x^2 + x + 1, start value 0, over every byte of the transfer, addresses
 * with their read/write bit included. */
static inline uint8_t pec(uint8_t crc, uint8_t byte)
{
    uint8_t bit;
    crc ^= byte;
    for (bit = 0; bit < 8; bit++)
        crc = (uint8_t)((crc << 1) ^ ((crc & 0x80) != 0 ? 0x07 : 0));
    return crc;
}

/* The register of the object's temperature, what one count is, and the bit that
 * marks a reading as bad: as your thermometer's data sheet says. */
#define IR_COMMAND 0x01
#define IR_COUNTS_PER_KELVIN 100
#define IR_BAD_BIT 0x8000u

/* The temperature in hundredths of a degree Celsius; BL_NONE where nobody
 * answers, the check byte is wrong, or the sensor says that it failed. A motor
 * is shiny metal, which an infrared thermometer reads far too cold: a dot of
 * matt paint where it looks. */
static inline int32_t ir_read(uint8_t address)
{
    uint8_t r[3], crc = 0;
    uint16_t word;
    if (!board_bus_word(address, IR_COMMAND, r))
        return BL_NONE;
    crc = pec(crc, (uint8_t)(address << 1));
    crc = pec(crc, IR_COMMAND);
    crc = pec(crc, (uint8_t)((address << 1) | 1));
    crc = pec(pec(crc, r[0]), r[1]);
    word = (uint16_t)(r[0] | (uint16_t)r[1] << 8);
    if (crc != r[2] || (word & IR_BAD_BIT) != 0)
        return BL_NONE;
    return (int32_t)word * 100 / IR_COUNTS_PER_KELVIN - 27315;
}

/* ---- serial telemetry of a motor controller ---- */

/* THE FRAME BELOW IS NOBODY'S. It stands here so that the example runs; put in
 * the one that your controller's data sheet gives. What any of them needs is
 * here: find the start, take so many bytes, check them, and only then believe.
 *
 *   0xA5, temperature (tenths of a degree, signed), volts (mV), amperes (10 mA),
 *   electrical turns a minute (tens), check byte as above; 16 bits, low first */
#define CONTROLLER_START 0xA5u
#define CONTROLLER_BYTES 10

typedef struct {
    uint8_t frame[CONTROLLER_BYTES];
    uint8_t count;
    uint32_t heard_us; /* when the last good frame came */
    bool heard;
    int32_t decidegrees, millivolts, centiamps, erpm; /* BL_NONE until heard, and when it fell silent */
} controller;

static inline uint16_t word_at(const uint8_t *p) { return (uint16_t)(p[0] | (uint16_t)p[1] << 8); }

static inline void controller_forget(controller *c)
{
    c->heard = false;
    c->decidegrees = c->millivolts = c->centiamps = c->erpm = BL_NONE;
}

/* Takes one byte, and says whether a good frame is whole. A frame that is bad is dropped byte by byte, so that a start
 * inside it is found. */
static inline bool controller_take(controller *c, uint8_t byte, uint32_t now_us)
{
    uint8_t crc = 0, i;
    c->frame[c->count++] = byte;
    while (c->count > 0 && c->frame[0] != CONTROLLER_START) {
        for (i = 1; i < c->count; i++)
            c->frame[i - 1] = c->frame[i];
        c->count--;
    }
    if (c->count < CONTROLLER_BYTES)
        return false;
    for (i = 0; i < CONTROLLER_BYTES - 1; i++)
        crc = pec(crc, c->frame[i]);
    if (crc != c->frame[CONTROLLER_BYTES - 1]) {
        c->frame[0] = 0; /* no start here: look on behind it with the next byte */
        for (i = 1; i < c->count && c->frame[i] != CONTROLLER_START; i++)
            ;
        c->count = (uint8_t)(c->count - i);
        for (crc = 0; crc < c->count; crc++)
            c->frame[crc] = c->frame[crc + i];
        return false;
    }
    c->count = 0;
    c->heard = true;
    c->heard_us = now_us;
    c->decidegrees = (int32_t)(word_at(c->frame + 1) ^ 0x8000u) - 0x8000;
    c->millivolts = word_at(c->frame + 3);
    c->centiamps = (int32_t)(word_at(c->frame + 5) ^ 0x8000u) - 0x8000;
    c->erpm = (int32_t)word_at(c->frame + 7) * 10;
    return true;
}

#endif
