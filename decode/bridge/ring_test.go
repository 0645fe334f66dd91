package bridge

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The ring leaves half of itself to what is urgent, whether lines come whole or
// byte by byte; a line of more than half goes out where nothing else waits.
func TestRingKeepsHalfFree(t *testing.T) {
	source := filepath.Join(t.TempDir(), "ring.c")
	require.NoError(t, os.WriteFile(source, []byte(`#include <stdio.h>
#include <string.h>
#define BL_IMPLEMENTATION
#include "benchring.h"
#ifdef BR_INDEX_8 /* read in one go on 8 bits */
#define INDEX 1
#else
#define INDEX 2
#endif
static uint8_t bytes[256];
static br_ring ring;
static bl_bridge bridge;
int main(void)
{
    char text[131];
    int i;
    memset(text, 'x', 130);
    text[130] = 0;
    br_init(&ring, bytes, 255);
    bl_init(&bridge, br_sink, &ring);
    if (sizeof ring.head != INDEX || sizeof ring.tail != INDEX)
        return 1;
    printf("%d", (int)bl_note(&bridge, 0, text)); /* nothing waits */
    while (br_take(&ring) >= 0)
        ;
    for (i = 0; i < 4; i++)
        printf("%d", (int)bl_load(&bridge, 0, 4213, 3)); /* some 25 bytes each */
    printf("%d", (int)bl_note(&bridge, 0, text));
    printf("%d", (int)bl_load(&bridge, 0, 4213, 3));
    printf("%d", (int)bl_note(&bridge, 0, "x"));
    printf("%d\n", (int)bl_load(&bridge, 0, 4213, 3));
    while ((i = br_take(&ring)) >= 0)
        putchar(i);
    return 0;
}
`), 0o600))
	for _, form := range []string{"-DWHOLE", "-DBL_STREAM", "-DBR_INDEX_8", "-DBR_INDEX_8 -DBL_STREAM"} {
		out, err := exec.Command(compile(t, compilers(t)[0], append(strings.Fields(form), source)...)).Output()
		require.NoError(t, err)
		require.Equal(t, "000001010\n", string(out[:10]), "%s: 0 is sent, 1 is dropped", form)
		require.Len(t, parse(t, string(out[10:])), 6, form)
	}
}
