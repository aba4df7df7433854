#version 330 core
// A picture at half its size: between four of its pixels their mean is read.
out vec4 seen;
#ifdef STACK
uniform sampler2DArray larger;
in vec3 place_in;
void main() { seen = textureLod(larger, place_in, 0.0); }
#else
uniform sampler2D larger;
in vec2 place;
void main() { seen = textureLod(larger, place, 0.0); }
#endif
