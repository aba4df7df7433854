#version 330 core
// A square that covers the picture, as a fan of two triangles; `place` is where that is in the larger one.
out vec2 place;
#ifdef STACK
flat out int layer;
#endif
void main() {
    place = vec2(((gl_VertexID + 1) & 2) >> 1, (gl_VertexID & 2) >> 1);
    gl_Position = vec4(place * 2.0 - 1.0, 0.0, 1.0);
#ifdef STACK
    layer = gl_InstanceID;
#endif
}
