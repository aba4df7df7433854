#version 330 core
// Something is in the way.
out vec4 seen;
void main() { seen = vec4(0.0); }
