#version 330 core
// Shares views out among the layers. Written out by layers.py, which knows the layers: OUTS, SUMS, SHARE, PUT.
// Alpha of a layer is what it and all nearer ones cover.
uniform sampler2DArray drawn;          // alpha: diameter of the blur, negative before the plane of focus [px]
uniform float scale;                   // from a diameter squared to the variance of one view's own part
uniform float weight;
#include "smear.glsl"
OUTS
// The variance of what a view fills, negative before the plane of focus. [px^2]
float own_part(float across) {
    return across * abs(across) * scale;
}
void main() {
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    SUMS
    for (int view = 0; view < COUNT; view++) {
        vec4 here = texelFetch(drawn, ivec3(pixel, view), 0), seen = here;
        float share = 1.0, v;
#ifdef SMEARED
        vec3 way = may_come_by(pixel, view);
        float steps = steps_of(way.xy);
        if (steps > 1.0) {
#ifdef EVEN
            seen = all_along(pixel, view, way.xy, steps, here);
#else
            if (all_alike(way)) {
                seen = all_along(pixel, view, way.xy, steps, here);
            } else {
                vec2 own = texelFetch(moved, ivec3(pixel, view), 0).xy;
                int last = LAST_OF(steps);
                for (int step = -last; step <= last; step++) {
                    share = share_of(step, steps);
                    seen = at_step(step, steps, pixel, view, way.xy, here, own);
                    v = own_part(seen.a);
                    SHARE
                }
                continue;
            }
#endif
        }
#endif
        v = own_part(seen.a);
        SHARE
    }
    PUT
}
