#version 330 core
// What stands still and has a surface that a file describes.
layout(location = 0) in vec3 position;
layout(location = 1) in vec3 normal;
layout(location = 2) in vec3 colour;   // reflectance
layout(location = 3) in vec3 glow;     // own radiance, in shares of saturation
layout(location = 6) in vec4 light;    // irradiance over pi, in shares of saturation; how much of it comes from no lamp
#include "views.glsl"
#include "streak.glsl"
#include "footprint.glsl"
#include "laid.glsl"
out vec3 towards_eye;
out vec3 world_normal;
void main() {
    towards_eye = VIEW(eye) - position;
    world_normal = normal;
    base = colour;
    light_on = light;
    own = glow;
#ifdef LAID
    laid = uv;
    image_bias = footprint_bias(position, normal, VIEW(eye), most_bias) + VIEW(detail);
#endif
#ifdef MOVING
    set_streak(vec4(position, 1.0), vec4(position, 1.0));
#endif
    CHOOSE_LAYER;
    gl_Position = VIEW(clip_from_world) * vec4(position, 1.0);
}
