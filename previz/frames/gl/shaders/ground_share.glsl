// What vehicles leave of the light on the ground, and what their own lamps add to it, as a share of the light.
in vec2 patch_uv;
uniform sampler2D shadow;              // irradiance with the vehicle over irradiance without it
#if defined(BEAM) || defined(OTHER_BEAMS)
uniform sampler2D light;               // irradiance, in shares of sensor saturation
#endif
#ifdef BEAM
uniform sampler2D beam;                // irradiance from the vehicle's own lamps, the same way
#endif
#ifdef OTHERS
in vec2 other_uv[OTHERS];
uniform vec4 other_shares[OTHERS];     // how much of its layer each one's patch takes up
uniform sampler2DArray other_shadows;  // as shadow and beam, a layer for each of the other vehicles
#ifdef OTHER_BEAMS
uniform sampler2DArray other_beams;
#endif
#endif
vec3 share_of_light() {
    // What several take of the light multiplies, what their lamps add adds up.
    vec3 left = vec3(1.0), added = vec3(0.0);
    if (all(greaterThan(patch_uv, vec2(0.0))) && all(lessThan(patch_uv, vec2(1.0)))) {
        left = texture(shadow, patch_uv).rgb;
#ifdef BEAM
        added = texture(beam, patch_uv).rgb;
#endif
    }
#ifdef OTHERS
    for (int k = 0; k < OTHERS; k++) {
        vec2 uv = other_uv[k];
        if (any(lessThan(uv, vec2(0.0))) || any(greaterThan(uv, vec2(1.0)))) continue;
        vec3 place = vec3(uv * other_shares[k].xy, float(k));
        left *= texture(other_shadows, place).rgb;
#ifdef OTHER_BEAMS
        added += texture(other_beams, place).rgb;
#endif
    }
#endif
#if defined(BEAM) || defined(OTHER_BEAMS)
    // The ground was drawn as if it had some light everywhere: what lamps add counts as a share of that.
    vec3 there = texture(light, image_uv).rgb;
    left = left * min(there / LEAST, vec3(1.0)) + added / max(there, vec3(LEAST));
#endif
    return min(left, vec3(60000.0));
}
