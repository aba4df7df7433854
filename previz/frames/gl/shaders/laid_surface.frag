#version 330 core
// A surface as glTF 2.0 describes it (appendix B), under light that was baked: what it scatters goes by the light on it,
// what it mirrors by the surround.
in vec3 base;                          // reflectance, before its image
in vec4 light_on;                      // irradiance over pi, in shares of saturation; how much of it comes from no lamp
in vec3 own;                           // radiance of its own, before its image
in vec3 towards_eye;
in vec3 world_normal;
#ifdef LAID
in vec4 laid;                          // two ways in which images lie
in float image_bias;
#endif
#include "blur.glsl"
#include "coat.glsl"
#ifndef MATT
uniform sampler2D reflection;          // microfacets.reflection_table
uniform float metal;
uniform float roughness;
#endif
#ifdef BASE
uniform sampler2D base_image;
#endif
#ifdef CUT
uniform float cutoff;
#endif
#ifdef METAL_ROUGHNESS
uniform sampler2D metal_roughness_image;
#endif
#ifdef NORMAL
uniform sampler2D normal_image;
uniform float normal_scale;
#endif
#ifdef OCCLUSION
uniform sampler2D occlusion_image;
uniform float occlusion_strength;
#endif
#ifdef EMISSION
uniform sampler2D emission_image;
#endif
layout(location = 0) out vec4 seen;

#ifdef NORMAL
// The normal that an image tilts. Its red goes along u, its green against v, for v runs down and green up.
vec3 tilted(vec3 n, vec2 place, vec3 told) {
    vec3 across = dFdx(-towards_eye), up = dFdy(-towards_eye);
    vec2 step_across = dFdx(place), step_up = dFdy(place);
    vec3 one = cross(up, n), other = cross(n, across);
    // The gradients of u and v over the surface, both times the same number.
    float turn = sign(dot(across, one));
    vec3 along_u = turn * (one * step_across.x + other * step_up.x);
    vec3 along_v = turn * (one * step_across.y + other * step_up.y);
    float longest = max(dot(along_u, along_u), dot(along_v, along_v));
    if (longest <= 0.0) return n;
    return normalize((along_u * told.x - along_v * told.y) * inversesqrt(longest) + n * told.z);
}
#endif

float brightness(vec3 light) { return dot(light, vec3(0.2126, 0.7152, 0.0722)); }

void main() {
    vec3 smooth_n = normalize(world_normal), to_eye = normalize(towards_eye), n = smooth_n;
    vec3 colour = base;
#ifdef BASE
    vec4 texel = texture(base_image, laid.BASE, image_bias);
    colour *= texel.rgb;
#endif
#ifdef NORMAL
    vec3 told = texture(normal_image, laid.NORMAL, image_bias).xyz * 2.0 - 1.0;
    n = tilted(n, laid.NORMAL, vec3(told.xy * normal_scale, told.z));
#endif
#ifndef MATT
    vec2 turned = turn(n);
#endif
    // Of a sheet seen from behind, or of a corner whose normal leans away.
    if (dot(smooth_n, to_eye) < 0.0) { smooth_n = -smooth_n; n = -n; }
    vec3 light = light_on.rgb;
#if defined(NORMAL) || !defined(MATT)
    vec3 around = mirrored(smooth_n, 1.0);
#endif
#ifdef NORMAL
    // The widest blur of the surround is nearly the light that falls on a surface: it turns with the normal as that does.
    light *= clamp(mirrored(n, 1.0) / max(around, vec3(1e-6)), 0.0, 4.0);
#endif
    float open = 1.0;
#ifdef OCCLUSION
    open = 1.0 - occlusion_strength * (1.0 - texture(occlusion_image, laid.OCCLUSION, image_bias).r);
#endif
    // Light straight from lamps is not affected (glTF 2.0, 3.9.3).
    open = mix(1.0, open, light_on.a);
    light *= open;
    vec3 sent = own;
#ifdef EMISSION
    sent *= texture(emission_image, laid.EMISSION, image_bias).rgb;
#endif
#ifdef MATT
    sent += colour * light;
#else
    float is_metal = metal, rough = roughness;
#ifdef METAL_ROUGHNESS
    vec4 both = texture(metal_roughness_image, laid.METAL_ROUGHNESS, image_bias);
    is_metal *= both.b;
    rough *= both.g;
#endif
    vec3 head_on = mix(vec3(0.04), colour, is_metal);
    float cosine = clamp(dot(n, to_eye), 0.0, 1.0);
    vec4 split = texture(reflection, (vec2(cosine, rough) * (ENTRIES - 1.0) + 0.5) / ENTRIES);
    // The surround is that of one place: where less light gets than there, less is mirrored.
    float here = clamp(brightness(light_on.rgb) / max(brightness(around), 1e-6), 0.0, 1.0);
    vec3 from = normalize(mix(n, reflect(-to_eye, n), split.b));
    vec3 glint = mirrored(from, roughened(split.a, turned)) * (head_on * split.r + split.g) * (here * open);
    // The mean of Schlick's term over even light, |V.H| for the cosine, by quadrature: off by 0.0006 at most.
    float crossing = 0.0278 * pow(1.0 - cosine, 2.6);
    sent += colour * (1.0 - is_metal) * (1.0 - head_on) * (1.0 - crossing) * light;
    // As in coat.glsl: what is cut off would show as loose bright dots.
    sent += min(glint, vec3(1.5));
#endif
#ifdef CUT
    if (texel.a < cutoff) discard;
#endif
    seen = vec4(min(sent, vec3(60000.0)), blur());
#ifdef SURVEY
    seen = surveyed(seen);
#endif
}
