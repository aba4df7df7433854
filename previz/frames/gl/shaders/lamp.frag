#version 330 core
in vec3 radiance;
in vec2 corner;
out vec4 seen;
void main() {
    if (dot(corner, corner) > 1.0) discard;
    seen = vec4(min(radiance, vec3(60000.0)), 1.0);
}
