#version 330 core
uniform sampler2DArray drawn;
uniform int count;
uniform float weight;
out vec4 total;
void main() {
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    vec4 sum = vec4(0.0);
    for (int layer = 0; layer < count; layer++) sum += texelFetch(drawn, ivec3(pixel, layer), 0);
    total = sum * weight;
}
