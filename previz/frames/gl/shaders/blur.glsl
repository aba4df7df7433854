#ifdef FILTERED
// Diameter of the blur of what is seen here, over pupil and shutter; negative before the plane of focus. [px]
uniform vec2 disc;                     // of the pupil's share: a + b / distance
#ifdef MOVING
uniform float streak_share;            // of a streak squared that each view fills alone
in float streak;
#endif
float blur() {
    float across = disc.x + disc.y * gl_FragCoord.w;
#ifdef MOVING
    // N views fall evenly into the area that the disc sweeps; the diameter is that of a disc of the same area.
    float swept = sqrt(across * across + (1.27324 * abs(across) + streak_share * streak) * streak);
    across = across < 0.0 ? -swept : swept;
#endif
    return across;
}
#ifdef SURVEY
vec4 surveyed(vec4 seen) {          // what is seen goes along, so that every program has the same inputs
#ifdef MOVING
    return vec4(disc.x + disc.y * gl_FragCoord.w, streak, seen.r + seen.a, 1.0);
#else
    return vec4(disc.x + disc.y * gl_FragCoord.w, 0.0, seen.r + seen.a, 1.0);
#endif
}
#endif
#else
float blur() { return 1.0; }
#endif
