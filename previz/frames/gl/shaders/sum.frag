#version 330 core
uniform sampler2DArray drawn;
uniform float weight;
#include "smear.glsl"
out vec4 total;
void main() {
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    vec4 sum = vec4(0.0);
    for (int view = 0; view < COUNT; view++) {
        vec4 seen = texelFetch(drawn, ivec3(pixel, view), 0);
#ifdef SMEARED
        vec3 way = may_come_by(pixel, view);
        float steps = steps_of(way.xy);
        if (steps > 1.0) {
#ifdef EVEN
            seen = all_along(pixel, view, way.xy, steps, seen);
#else
            if (all_alike(way)) {
                seen = all_along(pixel, view, way.xy, steps, seen);
            } else {
                vec2 own = texelFetch(moved, ivec3(pixel, view), 0).xy;
                int last = LAST_OF(steps);
                for (int step = -last; step <= last; step++) {
                    sum += at_step(step, steps, pixel, view, way.xy, seen, own) * share_of(step, steps);
                }
                continue;
            }
#endif
        }
#endif
        sum += seen;
    }
    total = sum * weight;
}
