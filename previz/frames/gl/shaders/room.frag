#version 330 core
uniform vec4 room;                     // radiance in shares of saturation, diameter of the blur
layout(location = 0) out vec4 seen;
#ifdef SMEARED
layout(location = 1) out vec2 moved;   // even all over: whether it moves does not show
#endif
void main() {
    seen = room;
#ifdef SMEARED
    moved = vec2(0.0);
#endif
}
