#version 330 core
// What lies beyond the set, as the vehicle's paint mirrors it; infinitely far.
uniform mat4 world_from_clip;
uniform vec3 from;                     // the eye
uniform vec2 size;                     // of the picture [px]
#include "coat.glsl"
layout(location = 0) out vec4 seen;
#ifdef SMEARED
layout(location = 1) out vec2 moved;
#endif
void main() {
    vec4 far = world_from_clip * vec4(gl_FragCoord.xy / size * 2.0 - 1.0, 0.5, 1.0);
    vec3 way = normalize(far.xyz / far.w - from);
    seen = vec4(min(mirrored(way, 0.0), vec3(60000.0)), 0.0);
#ifdef SMEARED
    moved = vec2(0.0);
#endif
}
