#version 330 core
// A layer blurred along one axis. NEAREST: nothing is nearer. PREPARED: by means over squares or another axis.
uniform sampler2D light;
#ifndef NEAREST
#ifdef PREPARED
uniform sampler2D free;
#else
uniform sampler2D before;
#endif
#endif
layout(location = 0) out vec4 soft;
layout(location = 1) out vec4 soft_free;
void main() {
    const float share[TAPS] = float[TAPS](KERNEL);
    ivec2 pixel = ivec2(gl_FragCoord.xy), last = textureSize(light, 0) - 1;
    vec4 sum = vec4(0.0);
    float open = 0.0;
    for (int step = 1 - TAPS; step < TAPS; step++) {
        ivec2 place = clamp(pixel + step * ALONG, ivec2(0), last);
        vec4 here = texelFetch(light, place, 0);
        sum += here * share[abs(step)];
#ifndef NEAREST
#ifdef PREPARED
        float unblocked = texelFetch(free, place, 0).r;
#else
        float unblocked = 1.0 - texelFetch(before, place, 0).a;
        sum.a -= (1.0 - unblocked) * share[abs(step)];
#endif
        open += unblocked * share[abs(step)];
#endif
    }
#ifdef NEAREST
    open = 1.0;
#endif
#ifdef LAST
    // How opaque the layer is to what gets as far as it, and its light in that proportion.
    float opaque = clamp(sum.a / max(open, 1e-5), 0.0, 1.0);
    sum = sum.a > 1e-6 ? vec4(sum.rgb * (opaque / sum.a), opaque) : vec4(0.0);
#endif
    soft = sum;
    soft_free = vec4(open);
}
