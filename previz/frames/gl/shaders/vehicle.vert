#version 330 core
// The vehicle: light was baked at stations along its path; wheels turn about their axles.
layout(location = 0) in vec3 position;
layout(location = 1) in vec3 normal;
layout(location = 2) in vec4 colour;   // reflectance, gloss
layout(location = 3) in vec3 glow;     // own radiance [cd/m2]
layout(location = 4) in vec4 axle;     // axle middle, wheel radius; radius 0: does not turn
uniform mat4 clip_from_world;
uniform mat4 world_from_vehicle;
uniform float travelled;
uniform float station;
uniform sampler2DArray body_light;     // irradiance [lx] of vertex i at texel (i mod width, i / width)
out vec3 radiance;
out float gloss;
out vec3 world_position;
out vec3 world_normal;

vec3 irradiance_at(int layer) {
    int width = textureSize(body_light, 0).x;
    return texelFetch(body_light, ivec3(gl_VertexID % width, gl_VertexID / width, layer), 0).rgb;
}

void main() {
    vec3 place = position, facing = normal;
    if (axle.w > 0.0) {
        // Rolling forward (+x) turns the top of the wheel towards +x.
        float turn = travelled / axle.w;
        mat3 rolled = mat3(cos(turn), 0.0, -sin(turn),  0.0, 1.0, 0.0,  sin(turn), 0.0, cos(turn));
        place = rolled * (position - axle.xyz) + axle.xyz;
        facing = rolled * normal;
    }
    float before = floor(station);
    int last = textureSize(body_light, 0).z - 1;
    vec3 irradiance = mix(irradiance_at(int(before)), irradiance_at(min(int(before) + 1, last)), station - before);
    radiance = colour.rgb * irradiance * 0.31830988618 + glow;
    gloss = colour.a;
    vec4 world = world_from_vehicle * vec4(place, 1.0);
    world_position = world.xyz;
    world_normal = mat3(world_from_vehicle) * facing;
    gl_Position = clip_from_world * world;
}
