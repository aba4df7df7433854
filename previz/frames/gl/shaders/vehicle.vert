#version 330 core
// The vehicle: light was baked at stations along its path; wheels turn about their axles.
layout(location = 0) in vec3 position;
layout(location = 1) in vec3 normal;
layout(location = 2) in vec4 colour;   // reflectance, gloss
layout(location = 3) in vec3 glow;     // own radiance, in shares of saturation
layout(location = 4) in vec4 axle;     // axle middle, wheel radius; radius 0: does not turn
layout(location = 6) in vec4 light;    // irradiance over pi, in shares of saturation; how much of it comes from no lamp
#include "views.glsl"
#include "streak.glsl"
#include "footprint.glsl"
#include "laid.glsl"
#ifndef SURFACE
out vec3 radiance;
out float gloss;
#endif
out vec3 towards_eye;
out vec3 world_normal;

// Rolling forward (+x) turns the top of the wheel towards +x.
mat3 rolled(float way) {
    float turn = way / axle.w;
    return mat3(cos(turn), 0.0, -sin(turn),  0.0, 1.0, 0.0,  sin(turn), 0.0, cos(turn));
}

vec3 placed(float way) {
    return axle.w > 0.0 ? rolled(way) * (position - axle.xyz) + axle.xyz : position;
}

#ifdef MOVING
uniform mat4 opened_from_vehicle;
uniform mat4 closed_from_vehicle;
uniform vec2 travels;                  // as the shutter opens and closes [m]
#endif

void main() {
    mat4 world_from_own = VIEW(world_from_vehicle);
    float way = VIEW(travelled);
    vec4 world = world_from_own * vec4(placed(way), 1.0);
    towards_eye = VIEW(eye) - world.xyz;
    world_normal = mat3(world_from_own) * (axle.w > 0.0 ? rolled(way) * normal : normal);
#ifdef SURFACE
    base = colour.rgb;
    light_on = light;
    own = glow;
#ifdef LAID
    laid = uv;
    image_bias = footprint_bias(world.xyz, world_normal, VIEW(eye), most_bias) + VIEW(detail);
#endif
#else
    radiance = colour.rgb * light.rgb + glow;
    gloss = colour.a;
#endif
#ifdef MOVING
    set_streak(opened_from_vehicle * vec4(placed(travels.x), 1.0), closed_from_vehicle * vec4(placed(travels.y), 1.0));
#endif
    CHOOSE_LAYER;
    gl_Position = VIEW(clip_from_world) * world;
}
