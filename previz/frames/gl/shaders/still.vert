#version 330 core
// What stands still: its radiance was settled when the light was baked.
layout(location = 0) in vec3 position;
layout(location = 1) in vec3 normal;
layout(location = 2) in vec4 colour;   // radiance in shares of saturation (times the image where there is one), gloss
layout(location = 5) in vec2 uv;
#include "views.glsl"
#include "footprint.glsl"
#include "streak.glsl"
#include "patch.glsl"
out vec3 radiance;
#ifdef GLOSSY
out float gloss;
out vec3 towards_eye;
out vec3 world_normal;
#endif
#ifdef SATIN
#include "coat.glsl"
#endif
#ifdef IMAGE
uniform float most_bias;
out vec2 image_uv;
out float image_bias;
#endif
void main() {
    radiance = colour.rgb;
#ifdef SATIN
    // Its mirror is so blurred that it is even over a triangle.
    radiance = coated(radiance, colour.a, normal, VIEW(eye) - position);
#endif
#ifdef GLOSSY
    gloss = colour.a;
    towards_eye = VIEW(eye) - position;
    world_normal = normal;
#endif
#ifdef IMAGE
    image_uv = uv;
    image_bias = footprint_bias(position, normal, VIEW(eye), most_bias) + VIEW(detail);
#endif
#ifdef PATCH
    set_patch(position);
#endif
#ifdef MOVING
    set_streak(vec4(position, 1.0), vec4(position, 1.0));
#endif
    CHOOSE_LAYER;
    gl_Position = VIEW(clip_from_world) * vec4(position, 1.0);
}
