#version 330 core
in vec3 radiance;
in float gloss;
in vec3 world_position;
in vec3 world_normal;
in vec2 image_uv;
uniform vec3 exposure;                 // from radiance to share of sensor saturation
#ifdef IMAGE
uniform sampler2D image;
#endif
#ifdef GLOSSY
uniform sampler2DArray surround;
uniform vec3 eye;
uniform float station;
// A clear coat of index 1.5 over a diffuse colour. What it mirrors is the surround seen from the vehicle's middle,
// kept in MIRRORS versions a station, each more blurred than the one before.
vec3 surround_at(vec2 uv, int place, float level) {
    float before = floor(level);
    int first = place * MIRRORS;
    vec3 sharper = texture(surround, vec3(uv, first + int(before))).rgb;
    vec3 softer = texture(surround, vec3(uv, first + min(int(before) + 1, MIRRORS - 1))).rgb;
    return mix(sharper, softer, level - before);
}
vec3 mirrored(vec3 direction, float roughness) {
    vec2 uv = vec2(atan(direction.y, direction.x) * 0.15915494, acos(clamp(direction.z, -1.0, 1.0)) * 0.31830989);
    int last = textureSize(surround, 0).z / MIRRORS - 1;
    int before = int(floor(station));
    float level = roughness * float(MIRRORS - 1);
    return mix(surround_at(uv, before, level), surround_at(uv, min(before + 1, last), level), station - floor(station));
}
vec3 coated(vec3 under, float strength, vec3 n, vec3 place) {
    vec3 facing = normalize(n), to_eye = normalize(eye - place);
    if (dot(facing, to_eye) < 0.0) facing = -facing;
    float cosine = clamp(dot(facing, to_eye), 0.0, 1.0);
    // Schlick's approximation of Fresnel reflection, 4 % at normal incidence for index 1.5 (Computer Graphics Forum
    // 13(3), 1994). A rough coat never becomes the full mirror that a smooth one is at a grazing angle.
    float grazing = max(strength, 0.04);
    float fresnel = (0.04 + (grazing - 0.04) * pow(1.0 - cosine, 5.0)) * strength;
    // The glint of a lamp in an edge is far above white in a few views and missed by the rest: what is cut off here is
    // what would show as loose bright dots.
    vec3 glint = min(mirrored(reflect(-to_eye, facing), 1.0 - strength) * fresnel, 4.0 / exposure);
    return under * (1.0 - fresnel) + glint;
}
#endif
out vec4 seen;
void main() {
    vec3 light = radiance;
#ifdef IMAGE
    light *= texture(image, image_uv).rgb;
#endif
#ifdef GLOSSY
    light = coated(light, gloss, world_normal, world_position);
#endif
    seen = vec4(min(light * exposure, vec3(60000.0)), 1.0);
}
