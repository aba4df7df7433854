#version 330 core
in vec2 image_uv;
in float image_bias;
uniform sampler2D image;               // radiance, in shares of sensor saturation
#ifdef PATCH
in vec2 patch_uv;
uniform sampler2D shadow;              // irradiance with the vehicle over irradiance without it
#ifdef BEAM
uniform sampler2D light;               // irradiance, in shares of sensor saturation
uniform sampler2D beam;                // irradiance from the vehicle's own lamps, the same way
#endif
#endif
#include "blur.glsl"
layout(location = 0) out vec4 seen;
void main() {
    vec3 light_out = texture(image, image_uv, image_bias).rgb;
#ifdef PATCH
    if (all(greaterThan(patch_uv, vec2(0.0))) && all(lessThan(patch_uv, vec2(1.0)))) {
        vec3 share = texture(shadow, patch_uv).rgb;
#ifdef BEAM
        share += texture(beam, patch_uv).rgb / max(texture(light, image_uv).rgb, vec3(1e-6));
#endif
        light_out = min(light_out * share, vec3(60000.0));
    }
#endif
    seen = vec4(light_out, blur());
#ifdef SURVEY
    seen = surveyed(seen);
#endif
}
