#version 330 core
// The largest movement in each tile of each view, or around it, and how much others differ from it: views in COLUMNS.
// KINDS: what happens in each tile in any view: nothing moves, all go the same way, or things go different ways;
// and how many steps its longest way has to either side.
#if defined(AROUND) || defined(KINDS)
uniform sampler2D furthest;
#ifdef KINDS
#include "ways.glsl"
uniform int count;
#endif
#else
uniform sampler2DArray moved;
#endif
#ifndef KINDS
uniform ivec4 window;                  // tiles outside are of no interest: left, bottom, right, top
#endif
out vec4 most;
void main() {
#ifdef KINDS
    float kind = 0.0, last = 0.0;
    for (int view = 0; view < count; view++) {
        vec3 way = way_of(ivec2(gl_FragCoord.xy), view);
        float steps = steps_of(way.xy);
        kind = max(kind, steps <= 1.0 ? 0.0 : all_alike(way) ? 1.0 : 2.0);
        last = max(last, float(last_of(steps)));
    }
    most = vec4(kind, last, 0.0, 0.0) / 255.0;
#else
    ivec2 place = ivec2(gl_FragCoord.xy), stands = place / TILES, first = stands * TILES, tile = place - first;
    vec2 far = vec2(0.0);
    float differs = 0.0;
#ifdef AROUND
    most = vec4(0.0);
    if (any(lessThan(tile, window.xy)) || any(greaterThanEqual(tile, window.zw))) return;
    vec3 here[9];
    for (int k = 0; k < 9; k++) {
        here[k] = texelFetch(furthest, first + clamp(tile + ivec2(k % 3, k / 3) - 1, ivec2(0), TILES - 1), 0).xyz;
        if (dot(here[k].xy, here[k].xy) > dot(far, far)) far = here[k].xy;
    }
    for (int k = 0; k < 9; k++) differs = max(differs, here[k].z + distance(here[k].xy, far));
#else
    int view = stands.y * COLUMNS + stands.x;
    most = vec4(0.0);
    if (view >= textureSize(moved, 0).z) return;
    if (any(lessThan(tile, window.xy)) || any(greaterThanEqual(tile, window.zw))) return;
    ivec2 end = min((tile + 1) * TILE, textureSize(moved, 0).xy);
    vec2 low = vec2(1e4), high = vec2(-1e4);
    // A quarter of the pixels, two in each row and in each column: no line is missed.
    for (int y = tile.y * TILE; y < end.y; y++)
        for (int x = tile.x * TILE + 3 * y % 4; x < end.x; x += 4) {
            vec2 here = texelFetch(moved, ivec3(x, y, view), 0).xy;
            low = min(low, here);
            high = max(high, here);
            if (dot(here, here) > dot(far, far)) far = here;
        }
    differs = distance(low, high);
#endif
    most = vec4(far, differs, 0.0);
#endif
}
