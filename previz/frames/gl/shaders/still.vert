#version 330 core
// What stands still: its radiance was settled when the light was baked.
layout(location = 0) in vec3 position;
layout(location = 1) in vec3 normal;
layout(location = 2) in vec4 colour;   // radiance [cd/m2] (times the image where there is one), gloss
layout(location = 5) in vec2 uv;
uniform mat4 clip_from_world;
out vec3 radiance;
out float gloss;
out vec3 world_position;
out vec3 world_normal;
out vec2 image_uv;
void main() {
    radiance = colour.rgb;
    gloss = colour.a;
    world_position = position;
    world_normal = normal;
    image_uv = uv;
    gl_Position = clip_from_world * vec4(position, 1.0);
}
