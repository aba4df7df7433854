// What stands on level ground or makes it gleam: a smooth film of water, which mirrors what stands round it.
in vec3 place;
in vec3 from_eye;
uniform sampler2D mirrored;            // all above the ground as from below it; alpha: -1 / its distance along the axis
uniform mat4 clip_of_mirror;           // where in that picture a place behind the mirror is seen

// Fresnel's equations for unpolarised light; physics.water.fresnel is the same.
float fresnel(float cosine) {
    float inside = sqrt(WATER * WATER - 1.0 + cosine * cosine);
    float across = (cosine - inside) / (cosine + inside);
    float along = (WATER * WATER * cosine - inside) / (WATER * WATER * cosine + inside);
    return 0.5 * (across * across + along * along);
}

vec4 seen_behind(vec4 clip, float level) {
    return textureLod(mirrored, clip.xy / max(clip.w, 1e-4) * 0.5 + 0.5, level);
}

vec3 gleaming(vec3 under, float film) {
    if (film < 0.01) return under;
    vec3 way = normalize(from_eye);
    // The picture is from one place, the eye may be at another in the pupil: go along the ray to where something is.
    vec4 here = clip_of_mirror * vec4(place, 1.0), onwards = clip_of_mirror * vec4(way, 0.0);
    float level = 5.0 * (1.0 - film);  // what gleams only in part is not smooth
    float nearness = -seen_behind(here, level).a;
    float far = nearness > 1e-3 ? max((1.0 / nearness - here.w) / max(onwards.w, 1e-4), 0.0) : 1e3;
    vec3 glint = min(seen_behind(here + far * onwards, level).rgb, vec3(60000.0));
    float share = film * fresnel(min(abs(way.z), 1.0));
    return under * (1.0 - share) + glint * share;
}
