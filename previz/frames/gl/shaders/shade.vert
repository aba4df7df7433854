#version 330 core
layout(location = 0) in vec3 position;
uniform mat4 clip_from_own;
void main() { gl_Position = clip_from_own * vec4(position, 1.0); }
