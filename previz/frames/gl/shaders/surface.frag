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
// A clear coat of index 1.5 over a diffuse colour. What it mirrors is the surround seen from the vehicle's middle.
vec3 mirrored(vec3 direction, float blur) {
    vec2 uv = vec2(atan(direction.y, direction.x) * 0.15915494, acos(clamp(direction.z, -1.0, 1.0)) * 0.31830989);
    float before = floor(station);
    vec3 sharp = mix(texture(surround, vec3(uv, before)).rgb, texture(surround, vec3(uv, before + 1.0)).rgb,
                     station - before);
    return sharp;
}
vec3 coated(vec3 under, float strength, vec3 n, vec3 place) {
    vec3 facing = normalize(n), to_eye = normalize(eye - place);
    if (dot(facing, to_eye) < 0.0) facing = -facing;
    float cosine = clamp(dot(facing, to_eye), 0.0, 1.0);
    // Schlick's approximation of Fresnel reflection, 4 % at normal incidence for index 1.5
    // (Computer Graphics Forum 13(3), 1994).
    float fresnel = (0.04 + 0.96 * pow(1.0 - cosine, 5.0)) * strength;
    return under * (1.0 - fresnel) + mirrored(reflect(-to_eye, facing), 1.0 - strength) * fresnel;
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
