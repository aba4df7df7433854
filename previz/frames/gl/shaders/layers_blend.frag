#version 330 core
// Lays the layers over one another from near to far. Written out by layers.py: SAMPLERS, LAY.
SAMPLERS
out vec4 seen;
vec4 laid = vec4(0.0);                 // light, and what is covered so far
// A layer's light and coverage, and the share of its views that nothing nearer blocks.
void lay_soft(vec4 layer, float free) {
    if (layer.a > 1e-5) {
        float opaque = clamp(layer.a / max(free, 1e-5), 0.0, 1.0) * (1.0 - laid.a);
        laid += vec4(layer.rgb / layer.a, 1.0) * opaque;
    }
}
void lay(vec4 layer, float before, float whole) { lay_soft(vec4(layer.rgb, layer.a - before), whole - before); }
void main() {
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    LAY
    seen = vec4(laid.rgb / max(laid.a, 1e-4), 1.0);
}
