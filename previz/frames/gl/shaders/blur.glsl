#ifdef MOVING
// How far what is seen here moves over the picture while the shutter is open. [px]
#if defined(SMEARED) || defined(SURVEY)
in vec2 streak;
#else
in float streak_length;
#endif
#endif
#ifdef SMEARED
// How far it moves in the part of the shutter that each view stands for. [px]
layout(location = 1) out vec2 moved;
#ifdef MOVING
uniform float smear_share;             // of the shutter
#endif
#endif
#ifdef FILTERED
// Diameter of the blur of what is seen here, over pupil and shutter; negative before the plane of focus. [px]
uniform vec2 disc;                     // of the pupil's share: a + b / distance
#if defined(MOVING) && !defined(SMEARED)
uniform float streak_share;            // of a streak squared that each view fills alone
#endif
float blur() {
    float across = disc.x + disc.y * gl_FragCoord.w;
#ifdef SMEARED
#ifdef MOVING
    moved = smear_share * streak;
    moved *= min(1.0, MOST_STEPS / max(length(moved), 1e-6));
#else
    moved = vec2(0.0);
#endif
#elif defined(MOVING)
    // N views fall evenly into the area that the disc sweeps; the diameter is that of a disc of the same area.
#ifdef SURVEY
    float far = length(streak);
#else
    float far = streak_length;
#endif
    float swept = sqrt(across * across + (1.27324 * abs(across) + streak_share * far) * far);
    across = across < 0.0 ? -swept : swept;
#endif
    return across;
}
#ifdef SURVEY
vec4 surveyed(vec4 seen) {          // what is seen goes along, so that every program has the same inputs
#ifdef MOVING
    return vec4(disc.x + disc.y * gl_FragCoord.w, length(streak), seen.r + seen.a, 1.0);
#else
    return vec4(disc.x + disc.y * gl_FragCoord.w, 0.0, seen.r + seen.a, 1.0);
#endif
}
#endif
#else
float blur() { return 1.0; }
#endif
