// A view stands for a part of the shutter: what moves in it is smeared over its way, in steps of a pixel.
#ifdef SMEARED
uniform sampler2D furthest;            // the most of that around each tile and how much others differ, in COLUMNS
#include "ways.glsl"
#ifndef EVEN
uniform sampler2DArray moved;          // how far what each view sees moves in its part of the shutter [px]
#endif

// The most that anything around here moves, what may come by; and how much other things' ways differ from it. [px]
vec3 may_come_by(ivec2 pixel, int view) { return way_of(pixel / TILE, view); }

#ifdef LAST
// No way here has more steps to either side: they are written out, without a loop.
#define LAST_OF(steps) LAST
#else
#define LAST_OF(steps) last_of(steps)
#endif

float share_of(int step, float steps) { return clamp(0.5 * steps + 0.5 - abs(float(step)), 0.0, 1.0) / steps; }

vec4 back_along(ivec2 pixel, int view, vec2 way) {
    ivec2 last = textureSize(drawn, 0).xy - 1;
    return texelFetch(drawn, ivec3(clamp(pixel - ivec2(round(way)), ivec2(0), last), view), 0);
}

// Where all go the same way.
vec4 all_along(ivec2 pixel, int view, vec2 way, float steps, vec4 here) {
    vec4 sum = vec4(0.0);
    int last = LAST_OF(steps);
    for (int step = -last; step <= last; step++)
        sum += (step == 0 ? here : back_along(pixel, view, way * (float(step) / steps))) * share_of(step, steps);
    return sum;
}

#ifndef EVEN
// What is here at a moment (-0.5..0.5 of the view's part of the shutter), of what the view shows of its middle.
vec4 at_moment(ivec2 pixel, int view, float moment, vec2 way, vec4 here, vec2 own) {
    vec4 there = back_along(pixel, view, way * moment);
    ivec2 from = clamp(pixel - ivec2(round(way * moment)), ivec2(0), textureSize(drawn, 0).xy - 1);
    float slack = slack_of(way);
    bool comes = distance(texelFetch(moved, ivec3(from, view), 0).xy, way) < slack;
    if (distance(own, way) < slack) {
        // What is here goes away: what comes after it; not what stands before it.
        return comes || there.a >= here.a ? there : here;
    }
    if (comes && there.a <= here.a) return there;
    // Nothing comes by: what is here, which may go its own way.
    return back_along(pixel, view, own * moment);
}

// The same at a step of the way; in the middle it is what the view shows.
vec4 at_step(int step, float steps, ivec2 pixel, int view, vec2 way, vec4 here, vec2 own) {
    return step == 0 ? here : at_moment(pixel, view, float(step) / steps, way, here, own);
}
#endif
#endif
