#version 330 core
// Means over squares of a layer: light and coverage, and the share that nothing nearer blocks.
uniform sampler2D light;
#ifndef NEAREST
uniform sampler2D before;
#endif
layout(location = 0) out vec4 mean;
layout(location = 1) out vec4 free;
void main() {
    ivec2 corner = ivec2(gl_FragCoord.xy) * SIDE, last = textureSize(light, 0) - 1;
    vec4 sum = vec4(0.0);
    float blocked = 0.0;
    for (int down = 0; down < SIDE; down++) for (int across = 0; across < SIDE; across++) {
        ivec2 pixel = min(corner + ivec2(across, down), last);
        sum += texelFetch(light, pixel, 0);
#ifndef NEAREST
        blocked += texelFetch(before, pixel, 0).a;
#endif
    }
    float part = 1.0 / float(SIDE * SIDE);
    mean = vec4(sum.rgb, sum.a - blocked) * part;
    free = vec4(1.0 - blocked * part);
}
