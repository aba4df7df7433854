#version 330 core
in vec3 radiance;
#ifdef IMAGE
in vec2 image_uv;
in float image_bias;
uniform sampler2D image;
#endif
#ifdef PATCH
in vec2 patch_uv;
uniform sampler2D shadow;              // irradiance with the vehicle over irradiance without it
#endif
#include "blur.glsl"
#ifdef GLOSSY
in float gloss;
in vec3 towards_eye;
in vec3 world_normal;
#include "coat.glsl"
#endif
layout(location = 0) out vec4 seen;
void main() {
    vec3 light = radiance;
#ifdef IMAGE
    light *= texture(image, image_uv, image_bias).rgb;
#endif
#ifdef PATCH
    if (all(greaterThan(patch_uv, vec2(0.0))) && all(lessThan(patch_uv, vec2(1.0)))) {
        light *= texture(shadow, patch_uv).rgb;
    }
#endif
#ifdef GLOSSY
    light = coated(light, gloss, world_normal, towards_eye);
#endif
    seen = vec4(min(light, vec3(60000.0)), blur());
#ifdef SURVEY
    seen = surveyed(seen);
#endif
}
