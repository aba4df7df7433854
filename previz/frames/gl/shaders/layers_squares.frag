#version 330 core
// Means over squares of a layer: light and coverage, and the share that nothing nearer blocks.
uniform sampler2D light;
#ifndef NEAREST
uniform sampler2D before;
#endif
layout(location = 0) out vec4 mean;
layout(location = 1) out vec4 free;
void main() {
    // Four at a look: between them lies their mean.
    vec2 corner = floor(gl_FragCoord.xy) * float(SIDE) + 1.0, size = vec2(textureSize(light, 0));
    vec4 sum = vec4(0.0);
    float blocked = 0.0;
    for (int down = 0; down < SIDE; down += 2) for (int across = 0; across < SIDE; across += 2) {
        vec2 place = min(corner + vec2(across, down), size - 0.5) / size;
        sum += texture(light, place);
#ifndef NEAREST
        blocked += texture(before, place).a;
#endif
    }
    float part = 4.0 / float(SIDE * SIDE);
    mean = vec4(sum.rgb, sum.a - blocked) * part;
    free = vec4(1.0 - blocked * part);
}
