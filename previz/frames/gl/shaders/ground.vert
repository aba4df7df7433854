#version 330 core
// The table top, its radiance baked into an image, and the vehicle's moving shadow.
layout(location = 0) in vec3 position;
layout(location = 1) in vec3 normal;
layout(location = 5) in vec2 uv;
#include "views.glsl"
#include "footprint.glsl"
#include "streak.glsl"
uniform float most_bias;
out vec2 image_uv;
out float image_bias;
#include "patch.glsl"
#ifdef OTHERS
uniform vec4 other_places[OTHERS];     // as patch_place, of the other vehicles
#ifdef AT_ONCE
uniform vec4 other_ways[AT_ONCE * OTHERS]; // cosine and sine of their heading, and where they are
#define OTHER_WAY(k) other_ways[gl_InstanceID * OTHERS + k]
#else
uniform vec4 other_ways[OTHERS];
#define OTHER_WAY(k) other_ways[k]
#endif
out vec2 other_uv[OTHERS];
#endif
#ifdef FILM
out vec3 place;
out vec3 from_eye;
#endif
invariant gl_Position;                 // shadow and beam may come after the ground, just there
void main() {
#ifdef FILM
    place = position;
    from_eye = position - VIEW(eye);
#endif
    image_uv = uv;
    image_bias = footprint_bias(position, normal, VIEW(eye), most_bias) + VIEW(detail);
#ifdef PATCH
    set_patch(position);
#endif
#ifdef OTHERS
    for (int k = 0; k < OTHERS; k++) {
        vec4 way = OTHER_WAY(k);
        vec2 off = position.xy - way.zw;
        vec2 own = vec2(dot(way.xy, off), dot(vec2(-way.y, way.x), off));
        other_uv[k] = vec2(own.x - other_places[k].x, other_places[k].y - own.y) * other_places[k].zw;
    }
#endif
#ifdef MOVING
    set_streak(vec4(position, 1.0), vec4(position, 1.0));
#endif
    CHOOSE_LAYER;
    gl_Position = VIEW(clip_from_world) * vec4(position, 1.0);
}
