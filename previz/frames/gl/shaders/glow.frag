#version 330 core
// The pupil's shape drawn with the lamp's own picture as a brush; for each pixel, or for FINER places of it each way.
flat in vec3 radii;
flat in vec4 light;
in vec2 from_middle;
uniform sampler2DArray reached;        // the pupil seen from the lamp: 1 where nothing is in the way
out vec4 seen;
const float PI = 3.14159265, FINE = 5.0;

// Area that two discs share, their middles `apart`: a segment of each, on either side of their chord.
float shared_area(float a, float b, float apart) {
    float small = min(a, b), large = max(a, b);
    if (apart <= large - small) return PI * small * small;
    if (apart >= large + small) return 0.0;
    float x = ((apart - large) * (apart + large) + small * small) / (2.0 * apart);
    float chord = sqrt(max(small * small - x * x, 0.0)), s = chord / large;    // half of it
    float own = small * small * acos(clamp(x / small, -1.0, 1.0)) - x * chord;
    // Of a far larger disc it is the small rest of two large numbers, less than their rounding: a series has none.
    float other = s < 0.3 ? s * s * s * (2.0 / 3.0 + s * s * (0.2 + s * s * 3.0 / 28.0))
                          : acos(clamp((apart - x) / large, -1.0, 1.0)) - s * (apart - x) / large;
    return max(own + large * large * other, 0.0);
}

// How much of the lamp's light arrives so far from the middle, the brush having that radius.
float arrives(vec2 off, float pupil, float own) {
    float covered = shared_area(pupil, own, length(off)) / (PI * pupil * pupil);
    vec2 place = off / radii.xy;
#ifdef BLADES
    if (pupil > own) {
        // The brush over the nearest straight edge: the part of a disc on one side of a line.
        float half_blade = PI / BLADES, apothem = sqrt(PI / (BLADES * tan(half_blade)));
        float turn = mod(atan(place.y, place.x), 2.0 * half_blade) - half_blade;
        float over = clamp((length(place) * cos(turn) - apothem) * pupil / own, -1.0, 1.0);
        float past_edge = (acos(over) - over * sqrt(1.0 - over * over)) / PI * (own * own) / (pupil * pupil);
        // About a corner the brush leaves an arc, and two straight edges do not: nothing is further out than that.
        covered = shared_area(pupil * apothem / cos(half_blade), own, length(off)) / (PI * pupil * pupil);
        covered = min(covered, past_edge);
    }
#endif
    // Through which parts of the pupil this place is reached: as large a part as the brush.
    vec2 uv = vec2(-place.x, place.y) / (2.0 * REACH) + 0.5;
    float level = log2(max(SIDE / REACH * own / pupil, 1.0));
    return covered * textureLod(reached, vec3(pupil > own ? uv : vec2(0.5), light.a), level).r;
}

void main() {
    float own = radii.z, pupil = sqrt(abs(radii.x * radii.y)), sum = 0.0;
    if (pupil + own < FINE) {
        // Small discs pixel by pixel in parts, or their light would depend on where they fall.
        for (int part = 0; part < PARTS * PARTS; part++) {
            vec2 within = (vec2(part % PARTS, part / PARTS) + 0.5) / float(PARTS) - 0.5;
            within /= float(FINER);
            sum += arrives(from_middle + within, pupil, own) / float(PARTS * PARTS);
        }
    } else {
        // A pixel's breadth is added to the brush's: an even disc has a pixel's variance, 1 / 12, at radius^2 = 1 / 3.
        float broad = sqrt(own * own + 1.0 / float(3 * FINER * FINER));
        sum = arrives(from_middle, pupil, broad) * own * own / (broad * broad);
    }
    seen = vec4(light.rgb * sum, 0.0);
}
