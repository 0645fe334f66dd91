/* benchring.h: a ring of bytes between a bridge and its port, for benchline.h.
 * The main loop puts whole lines in (br_sink), the port's interrupt takes bytes
 * out (br_take). No lock: only the main loop moves head, only the interrupt
 * moves tail. One core alone: two cores need barriers that are not here.
 *
 *     static uint8_t bytes[256];               // a power of two
 *     br_ring ring;
 *     br_init(&ring, bytes, sizeof bytes - 1); // its size less one
 *     bl_init(&bridge, br_sink, &ring);
 *     ...interrupt: int c = br_take(&ring); if (c >= 0) data_register = c; else mask it
 *
 * WHEN THE PORT IS FULL, lines are lost whole, and what matters least is lost
 * first: what the person is warned by at once (state, axes, out, erpm, load,
 * and hello, which tells a restart) may use all of the ring; the others leave
 * half of it free, and find room beyond that only while nothing else waits: in a
 * small ring a craft's line takes more than half.
 */
#ifndef BENCHRING_H
#define BENCHRING_H

#include "benchline.h"

/* An index must be read and written in one go: an interrupt between the two
 * halves of one would send bytes of long ago. Define BR_INDEX_8 on any processor
 * of 8 bits; that this is one is seen by itself on an AVR alone. */
#if defined(__AVR__) || defined(BR_INDEX_8)
typedef uint8_t br_index; /* rings of up to 256 bytes */
#else
typedef uint16_t br_index; /* rings of up to 32768 bytes */
#endif

typedef struct {
    volatile uint8_t *bytes; /* volatile: filled before head moves, whatever the compiler orders */
    br_index mask;           /* size less one; a power of two less one */
    volatile br_index head;  /* next to fill */
    volatile br_index tail;  /* next to send */
#ifdef BL_STREAM
    br_index fill; /* next of the line that is not whole yet; the interrupt does not look */
#endif
} br_ring;

static inline void br_init(br_ring *r, uint8_t *bytes, br_index mask)
{
    r->bytes = bytes;
    r->mask = mask;
    r->head = r->tail = 0;
#ifdef BL_STREAM
    r->fill = 0;
#endif
}

/* Bytes that wait. One place always stays free: full is not empty. */
static inline br_index br_used(const br_ring *r)
{
    return (br_index)((br_index)(r->head - r->tail) & r->mask);
}

static inline bool br_is_urgent(bl_tag tag)
{
    return tag == BL_STATE || tag == BL_AXES || tag == BL_OUT || tag == BL_ERPM || tag == BL_LOAD || tag == BL_HELLO;
}

/* Whether a line of that length goes in now. Ask before making one that may as
 * well wait: a line that is made and finds no room is lost. */
static inline bool br_fits(const br_ring *r, bl_tag tag, uint8_t length)
{
    br_index used = br_used(r);
    return length <= r->mask - used && (br_is_urgent(tag) || used == 0 || used + length <= r->mask / 2);
}

#ifdef BL_STREAM
/* The sink for bl_init: a line grows behind head, where the interrupt does not
 * see it, and head moves at its end. One that finds no room is forgotten. */
static inline bool br_sink(void *context, bl_tag tag, char c)
{
    br_ring *r = (br_ring *)context;
    br_index next = (br_index)((r->fill + 1) & r->mask);
    br_index taken = (br_index)((br_index)(next - r->tail) & r->mask);
    if (next == r->tail || (!br_is_urgent(tag) && taken > r->mask / 2 && br_used(r) != 0)) {
        r->fill = r->head;
        return false;
    }
    r->bytes[r->fill] = (uint8_t)c;
    r->fill = next;
    if (c == '\n')
        r->head = next; /* last: the interrupt sees the line once all of it is there */
    return true;
}
#else
/* The sink for bl_init: the whole line, or nothing. */
static inline bool br_sink(void *context, bl_tag tag, const char *line, uint8_t length)
{
    br_ring *r = (br_ring *)context;
    br_index head = r->head;
    if (!br_fits(r, tag, length))
        return false;
    for (; length > 0; length--, line++) {
        r->bytes[head] = (uint8_t)*line;
        head = (br_index)((head + 1) & r->mask);
    }
    r->head = head; /* last: the interrupt sees the line once all of it is there */
    return true;
}
#endif

/* The next byte for the port, -1 where none waits. */
static inline int br_take(br_ring *r)
{
    br_index tail = r->tail;
    int c;
    if (tail == r->head)
        return -1;
    c = r->bytes[tail];
    r->tail = (br_index)((tail + 1) & r->mask);
    return c;
}

#endif /* BENCHRING_H */
