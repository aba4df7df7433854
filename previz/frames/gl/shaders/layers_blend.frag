#version 330 core
// Lays the layers over one another from near to far. Written out by layers.py: SAMPLERS, LAY.
SAMPLERS
out vec4 seen;
vec4 laid = vec4(0.0);                 // light, and what is covered so far
// A layer that is not blurred: its light, and what it and all nearer ones cover; and what the nearer ones cover.
void lay(vec4 layer, float before) {
    float covered = layer.a - before;
    float opaque = clamp(covered / max(1.0 - before, 1e-5), 0.0, 1.0);
    if (covered > 1e-6) laid += (1.0 - laid.a) * vec4(layer.rgb * (opaque / covered), opaque);
}
void main() {
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    LAY
    seen = vec4(laid.rgb / max(laid.a, 1e-4), 1.0);
}
