#version 330 core
// A square around a lamp's disc.
layout(location = 0) in vec3 position; // clip coordinates
layout(location = 1) in vec3 normal;   // radii of the disc across and up (signed), of the lamp's own picture [px]
layout(location = 2) in vec4 colour;   // light of the lamp's own picture, layer
layout(location = 5) in vec2 uv;       // from the middle [px]
flat out vec3 radii;
flat out vec4 light;
out vec2 from_middle;
void main() {
    radii = normal;
    light = colour;
    from_middle = uv;
    gl_Position = vec4(position.xy, 0.0, 1.0);
}
