/* A program of nothing but the encoder, for its size. STAND: what a bridge of
 * the stand alone needs. */
#define BL_IMPLEMENTATION
#include "benchline.h"

static volatile uint8_t port;
#ifdef BL_FLOAT
static volatile float reading;
#endif
static bl_bridge b;
static int32_t v[10];

#ifdef BL_STREAM
static bool sink(void *context, bl_tag tag, char c)
{
    (void)context;
    (void)tag;
    port = (uint8_t)c;
    return true;
}
#else
static bool sink(void *context, bl_tag tag, const char *line, uint8_t length)
{
    (void)context;
    (void)tag;
    port = (uint8_t)line[length - 1];
    return true;
}
#endif

int main(void)
{
    bl_init(&b, sink, NULL);
    for (;;) {
        bl_hello(&b, 1, "bench-1", 42);
        bl_erpm(&b, 1, v, 4, 0);
        bl_temp(&b, 1, v, 4, 1);
        bl_load(&b, 1, v[0], 3);
#ifndef STAND
        static const bl_craft_info craft = {"", BL_QUAD_X, {4, 14, 3, 178, 655, 4}, 0, 0};
        bl_craft(&b, 1, &craft);
        bl_axes(&b, 1, v, 1, 4);
        bl_out(&b, 1, v, 4, 4);
        bl_accel(&b, 1, v, 3);
        bl_pack(&b, 1, v, 2, 2);
        bl_air(&b, 1, v, 0, 1);
        bl_state(&b, 1, v, 3);
        bl_set(&b, 1, "idle_ready", v[0], 2);
        bl_note(&b, 1, "");
#endif
#ifdef BL_FLOAT
        v[0] = bl_scaled(reading, 3);
#endif
    }
}
