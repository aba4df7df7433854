#version 330 core
uniform vec4 room;                     // radiance in shares of saturation, diameter of the blur
out vec4 seen;
void main() { seen = room; }
