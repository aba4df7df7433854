#version 330 core
// A square around a lamp's disc.
layout(location = 0) in vec3 position; // in the picture [px]
layout(location = 1) in vec3 normal;   // radii of the disc across and up (signed), of the lamp's own picture [px]
layout(location = 2) in vec4 colour;   // light of the lamp's own picture, layer
layout(location = 5) in vec2 uv;       // from the middle [px]
uniform vec4 part;                     // of the picture that is drawn: left, bottom, width, height [px]
flat out vec3 radii;
flat out vec4 light;
out vec2 from_middle;
void main() {
    radii = normal;
    light = colour;
    from_middle = uv;
    gl_Position = vec4((position.xy - part.xy) / part.zw * 2.0 - 1.0, 0.0, 1.0);
}
