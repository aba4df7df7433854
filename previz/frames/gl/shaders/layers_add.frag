#version 330 core
// Shares views out among the layers. Written out by layers.py, which knows the layers: OUTS, SUMS, SHARE, PUT.
// Alpha of a layer is what it and all nearer ones cover.
uniform sampler2DArray drawn;          // alpha: diameter of the blur, negative before the plane of focus [px]
uniform int count;
uniform float scale;                   // from a diameter squared to the variance of one view's own part
uniform float weight;
OUTS
void main() {
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    SUMS
    for (int view = 0; view < count; view++) {
        vec4 seen = texelFetch(drawn, ivec3(pixel, view), 0);
        float v = seen.a * abs(seen.a) * scale;
        SHARE
    }
    PUT
}
