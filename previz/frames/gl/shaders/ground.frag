#version 330 core
in vec2 image_uv;
in float image_bias;
uniform sampler2D image;               // radiance, in shares of sensor saturation
#ifdef PATCH
in vec2 patch_uv;
uniform sampler2D shadow;              // irradiance with the vehicle over irradiance without it
#if defined(BEAM) || defined(OTHER_BEAMS)
uniform sampler2D light;               // irradiance, in shares of sensor saturation
#endif
#ifdef BEAM
uniform sampler2D beam;                // irradiance from the vehicle's own lamps, the same way
#endif
#endif
#ifdef OTHERS
in vec2 other_uv[OTHERS];
uniform vec4 other_shares[OTHERS];     // how much of its layer each one's patch takes up
uniform sampler2DArray other_shadows;  // as shadow and beam, a layer for each of the other vehicles
#ifdef OTHER_BEAMS
uniform sampler2DArray other_beams;
#endif
#endif
#ifdef FILM
#include "water.glsl"
#endif
#include "blur.glsl"
layout(location = 0) out vec4 seen;
void main() {
    vec4 texel = texture(image, image_uv, image_bias);
    vec3 light_out = texel.rgb;
#ifdef OTHERS
    // What several take of the light multiplies, what their lamps add adds up.
    vec3 left = vec3(1.0), added = vec3(0.0);
    if (all(greaterThan(patch_uv, vec2(0.0))) && all(lessThan(patch_uv, vec2(1.0)))) {
        left = texture(shadow, patch_uv).rgb;
#ifdef BEAM
        added = texture(beam, patch_uv).rgb;
#endif
    }
    for (int k = 0; k < OTHERS; k++) {
        vec2 uv = other_uv[k];
        if (any(lessThan(uv, vec2(0.0))) || any(greaterThan(uv, vec2(1.0)))) continue;
        vec3 place = vec3(uv * other_shares[k].xy, float(k));
        left *= texture(other_shadows, place).rgb;
#ifdef OTHER_BEAMS
        added += texture(other_beams, place).rgb;
#endif
    }
#if defined(BEAM) || defined(OTHER_BEAMS)
    left += added / max(texture(light, image_uv).rgb, vec3(1e-6));
#endif
    light_out = min(light_out * left, vec3(60000.0));
#elif defined(PATCH)
    if (all(greaterThan(patch_uv, vec2(0.0))) && all(lessThan(patch_uv, vec2(1.0)))) {
        vec3 share = texture(shadow, patch_uv).rgb;
#ifdef BEAM
        share += texture(beam, patch_uv).rgb / max(texture(light, image_uv).rgb, vec3(1e-6));
#endif
        light_out = min(light_out * share, vec3(60000.0));
    }
#endif
#ifdef FILM
    light_out = gleaming(light_out, texel.a);
#endif
    seen = vec4(light_out, blur());
#ifdef SURVEY
    seen = surveyed(seen);
#endif
}
