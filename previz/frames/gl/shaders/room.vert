#version 330 core
// Behind everything: what is seen past the set.
#include "views.glsl"
void main() {
    vec2 corner = vec2((gl_VertexID << 1) & 2, gl_VertexID & 2);
    CHOOSE_LAYER;
    gl_Position = vec4(corner * 2.0 - 1.0, 1.0, 1.0);
}
